"""How pictures are looked at, in words, and the eye's blur for each."""

from dataclasses import replace

import pytest

from nightglass.gear.benchfile import LimitChoice, Purpose
from nightglass.verdict.purpose import (
    eye_of,
    eye_of_purpose,
    purpose_from,
    seen_percent,
    with_choices,
)


@pytest.mark.parametrize(
    ("words", "percent"),
    [
        # 1 arcminute (ISO 8596) is 0.0873 mm at 30 cm and 0.291 mm at 1 m; a screen: 100 / 1080.
        ("phone", 100 * 0.08727 / 68),
        ("screen", 100 / 1080),
        ("print 60 cm wide seen from 1 m", 100 * 0.29089 / 400),
        ("print 40 cm high seen from 30 cm", 100 * 0.08727 / 400),
        ("Print 60x40 cm at 1 m", 100 * 0.29089 / 400),
        ("print 40 x 60 cm", 100 * 0.29089e-3 * 721.11 / 400),
    ],
)
def test_eye_of_words(words, percent):
    assert eye_of(words).eye_percent == pytest.approx(percent, rel=1e-3)


def test_a_print_of_one_side_takes_the_frames_shape():
    """60 cm wide at 4:3 is 45 cm high."""
    assert eye_of("print 60 cm wide seen from 1 m", 4 / 3).picture_height_m == pytest.approx(0.45)


def test_without_a_distance_a_print_is_seen_from_its_diagonal():
    """Common practice."""
    assert eye_of("print 30x40 cm").distance_m == pytest.approx(0.5)


@pytest.mark.parametrize(
    "words", ["poster", "", "print", "print 60 cm", "0.25", "print 60x40 cm wide"]
)
def test_other_words_are_refused_with_the_forms(words):
    with pytest.raises(ValueError, match=r'not understood as a purpose; allowed: "phone"') as said:
        purpose_from(words)
    assert "--limit 0.25" in str(said.value)


def test_options_win_over_the_file(bench):
    chosen = with_choices(bench, "phone", remote=True, limit_percent=0.3)
    assert (chosen.purpose.kind, chosen.time.release) == ("phone", "remote")
    assert chosen.limit == LimitChoice(0.3)
    kept = replace(bench, limit=LimitChoice(0.2, "with trail", "mean"))
    assert with_choices(kept, limit_percent=0.3).limit == LimitChoice(0.3, "with trail", "mean")
    assert with_choices(bench) == bench


def test_absurd_sizes_are_refused(bench):
    with pytest.raises(ValueError, match="the limit is 0 % of picture height; allowed: above 0"):
        with_choices(bench, limit_percent=0.0)
    with pytest.raises(ValueError, match="both must be above 0"):
        seen_percent(0.0, 1.0)
    with pytest.raises(ValueError, match="a print needs a size"):
        eye_of_purpose(Purpose("print", "print"))
