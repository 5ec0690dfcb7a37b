"""Names that people and cameras give."""

import pytest

from nightglass.gear.bag import BenchFileError, parse_bench
from nightglass.gear.names import LONGEST_NAME, fit_name, name_fault

FILE = """[body]
name = "Loan body"
pitch_um = 6.05
width_px = 3872
height_px = 2592
[[lens]]
name = {}
focal_mm = 12
f_number = 2
"""
SUCH_AS = 'allowed: the lens\'s name, such as "Wren 12 mm f/2"'


def problem_of(typed: str) -> str:
    with pytest.raises(BenchFileError) as caught:
        parse_bench(FILE.format(typed))
    (problem,) = caught.value.problems
    return problem


@pytest.mark.parametrize("typed", ['""', '"   "', '"\\t"', '"\\u00a0\\u3000"'])
def test_a_blank_name_is_refused(typed):
    assert problem_of(typed).endswith(f"name is blank; {SUCH_AS}")


def test_a_name_of_80_letters_is_the_longest_and_a_longer_one_is_not_echoed_whole():
    assert parse_bench(FILE.format(f'"{"ż" * LONGEST_NAME}"')).lenses[0].name == "ż" * 80
    shown = f'bench.toml, line 7: [[lens]] "{"w" * 57}...": '
    assert problem_of(f'"{"w" * 5000}"') == f"{shown}name has 5000 letters; at most 80; {SUCH_AS}"


@pytest.mark.parametrize(
    ("typed", "code", "place"),
    [
        ('"\\u001b[2J"', "U+001B", 1),
        ('"Wren\\u009b31m"', "U+009B", 5),
        ('"Wren\\n12"', "U+000A", 5),
        ('"ab\\u202ecd"', "U+202E", 3),
        ('"a\\u2028b"', "U+2028", 2),
        ('"a\\u007f"', "U+007F", 2),
    ],
)
def test_control_codes_are_refused_by_number_and_place(typed, code, place):
    assert (
        f"name holds a control code ({code}) as letter {place}; type it again without; {SUCH_AS}"
    ) in problem_of(typed)


@pytest.mark.parametrize("name", ["גלעד 24", "نجمة ۵۰", "星の 12 mm", "Wren 🔭👩‍🚀", "ا‌ب \u200f3"])
def test_names_of_every_script_are_taken(name):
    assert name_fault(name) is None
    assert fit_name(name, "lens") == name


def test_names_elsewhere_are_checked_alike():
    with pytest.raises(
        BenchFileError, match=r"session = \"w{57}\.\.\.\" has 90 letters; at most 80"
    ):
        parse_bench(FILE.format('"Wren"') + f'[bench]\nsession = "{"w" * 90}"\n')


def test_a_recorded_name_is_made_fit():
    assert fit_name("Wren\x1b[2J\u202e 12\x00mm", "lens") == "Wren [2J 12 mm"
    assert fit_name("w" * 100, "lens") == "w" * 80
    assert fit_name("\x1b\x07", "lens") == "lens"
