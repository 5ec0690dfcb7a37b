"""Every code has words, and every word's numbers can be filled in."""

import re

import pytest

from nightglass.finish.codes import ALL_CODES, FindingCode
from nightglass.show.finish import words
from nightglass.show.finish.text import TITLES

TABLES = (words.FINDINGS, words.NOTES, words.UNCOMPARED, words.DIFFERENCES, words.PROFILES)


def test_every_code_has_its_words_and_no_others():
    worded = {code for table in TABLES for code in table}
    assert worded == {code for kind in ALL_CODES for code in kind}
    assert set(TITLES) == set(FindingCode)


@pytest.mark.parametrize("text", [t for table in TABLES for t in table.values()])
def test_numbers_are_filled_in(text):
    names = re.findall(r"\{(\w+)\}", text)
    said = words.worded(text, dict.fromkeys(names, 0.25))
    assert "{" not in said


@pytest.mark.parametrize(
    ("name", "value", "said"),
    [
        ("left", 0.312, "31 %"), ("red_stops", 0.2, "+0.20 stops"),
        ("misfit_stops", 0.0481, "0.048 stops"), ("percent", 1.258, "1.3 %"),
        ("times", 11.49, "11.5"), ("scale_px", 16, "16"), ("mirrored", 1, " and mirrored"),
        ("mirrored", 0, ""), ("one", "sRGB", "sRGB"), ("one", None, "not known"),
    ],
)  # fmt: skip
def test_numbers_are_written_as_a_reader_writes_them(name, value, said):
    assert words.worded("{" + name + "}", {name: value}) == said
