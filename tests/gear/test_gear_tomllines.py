"""Lines of keys, among strings and lists that look like tables."""

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nightglass.gear.tomllines import find_line

TEXT = '''top = 1
[a]
list = [
  "[[a]]",  # ] a bracket in a remark
  [1, 2],
]
long = """
[b]
key = 3
"""
"quoted key" = 2
inline = { x = 1, y = 2 }
d.e = 4
[[row]]   # first
name = "one # not a remark ["
[[row]]
name = 'two'
[row.inner]
z = 1
'''


@pytest.mark.parametrize(
    ("location", "line"),
    [
        (("top",), 1),
        (("a",), 2),
        (("a", "list", 1), 3),
        (("a", "long"), 7),
        (("a", "quoted key"), 11),
        (("a", "inline", "y"), 12),
        (("a", "d", "e"), 13),
        (("row", 0, "name"), 15),
        (("row", 1), 16),
        (("row", 1, "name"), 17),
        (("row", 1, "absent"), 16),
        (("b", "key"), 1),
    ],
)
def test_line_of_a_key_or_of_the_table_around_it(location, line):
    tomllib.loads(TEXT)
    assert find_line(TEXT, location) == line


@given(st.lists(st.sampled_from(["a", "b", "c"]), unique=True), st.integers(0, 5))
def test_line_counts_empty_lines(keys, gap):
    text = "".join(f"{'#' * 3}\n" * gap + f"{key} = 1\n" for key in keys)
    for number, key in enumerate(keys):
        assert find_line(text, (key,)) == (gap + 1) * (number + 1)
