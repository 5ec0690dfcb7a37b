"""Purposes in words: 1 arcminute at the viewing distance over the height of the picture."""

import math

import pytest

from nightglass.gear.benchfile import Purpose
from nightglass.verdict.purpose import (
    limit_from_words,
    purpose_limit,
    purpose_table,
    seen_percent,
)


def test_one_arcminute_on_a_print_40_cm_high_at_30_cm():
    # 1 arcminute at 250 mm is 0.07272 mm (tan 1'), so at 300 mm 0.08727 mm; over 400 mm: 0.0218 %.
    assert seen_percent(0.4, 0.3) == pytest.approx(0.08727 / 400 * 100, rel=1e-4)
    assert limit_from_words("print 40 cm high at 30 cm").limit_percent == pytest.approx(
        0.0218, abs=1e-4
    )


def test_a_picture_seen_from_its_own_diagonal_asks_for_0_052_percent():
    # Common practice; 3:2 picture: diagonal / height = sqrt(1 + 1.5^2) = 1.8028.
    assert seen_percent(1.0, math.sqrt(3.25)) == pytest.approx(0.0524, abs=1e-4)


def test_print_60_cm_wide_at_1_m():
    # 1' at 1000 mm: 0.29089 mm; a 3:2 print is 400 mm high: 0.0727 %.
    limit = limit_from_words("print 60 cm wide seen from 1 m")
    assert limit.limit_percent == pytest.approx(0.29089 / 400 * 100, rel=1e-4)
    # A 4:3 frame of the same width is 450 mm high.
    wider = limit_from_words("print 60 cm wide seen from 1 m", frame_shape=4 / 3)
    assert wider.limit_percent == pytest.approx(0.29089 / 450 * 100, rel=1e-4)


def test_screen_is_one_line_of_1080():
    assert limit_from_words("screen").limit_percent == pytest.approx(0.0926, abs=1e-4)


def test_units_and_words_for_the_same_print_agree():
    same = [
        "print 400 mm high at 30 cm",
        "Print  40 cm  tall seen from 0.3 m",
        "print 0.4 m high at 0.3 m",
    ]
    limits = [limit_from_words(words).limit_percent for words in same]
    assert limits == pytest.approx([limits[0]] * 3)


def test_a_bare_number_is_a_limit_in_percent():
    assert limit_from_words("0.2").limit_percent == 0.2
    assert limit_from_words("0.2 %").limit_percent == 0.2


def test_a_typed_number_wins_over_the_words():
    limit = purpose_limit(Purpose("phone", "phone", limit_percent=0.3))
    assert (limit.limit_percent, limit.words, limit.how) == (0.3, "phone", "typed")


def test_without_a_purpose_the_default_limit_is_stated():
    limit = purpose_limit(Purpose())
    assert limit.limit_percent == 0.25
    assert limit.how == "default limit, common practice"


def test_table_runs_from_lenient_to_strict_and_holds_every_kind():
    rows = purpose_table()
    limits = [row.limit_percent for row in rows]
    assert limits == sorted(limits, reverse=True)
    assert {row.words.split()[0] for row in rows} == {"phone", "screen", "print"}


@pytest.mark.parametrize("words", ["poster", "print", "print 60 wide at 1 m", "print 60 cm at 1 m"])
def test_unknown_words_list_the_allowed_forms(words):
    allowed = 'not understood as a purpose; allowed: "phone", "screen", or "print 60 cm wide seen'
    with pytest.raises(ValueError, match=allowed):
        limit_from_words(words)


@pytest.mark.parametrize("number", ["0", "-0.2", "11", "nan"])
def test_a_limit_without_meaning_is_refused(number):
    with pytest.raises(ValueError, match=r"of picture height; allowed: above 0, at most 10"):
        limit_from_words(number)


def test_a_print_without_its_distance_says_what_to_write():
    with pytest.raises(ValueError, match="a print needs a size and a viewing distance, such as"):
        purpose_limit(Purpose("print", "print", None, 0.6, None, None))


def test_a_picture_without_height_is_refused():
    with pytest.raises(ValueError, match="both must be above 0"):
        seen_percent(0.0, 1.0)
