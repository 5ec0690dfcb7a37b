"""The eye's blur per purpose, and fixed on the sky."""

import math

import pytest

from nightglass.gear.benchfile import Purpose
from nightglass.gear.body import Body
from nightglass.verdict.purpose import PURPOSES, eye_of, eye_of_purpose
from nightglass.verdict.view.eye import Eye, eye_arcmin, eye_on_sky

BODY = Body("Loan body 24", 3.9, 6000, 4000)


@pytest.mark.parametrize(
    ("words", "percent"), [(PURPOSES[0], 0.128), (PURPOSES[1], 0.093), (PURPOSES[2], 0.0727)]
)
def test_eye_of_the_three_purposes(words, percent):
    """1 arcminute (ISO 8596: visual acuity 1.0) on 68 mm from 30 cm, on 40 cm from 1 m; a line of
    1080."""
    assert eye_of(words).eye_percent == pytest.approx(percent, abs=0.0005)


def test_standard_deviation_is_the_width_over_2_355():
    """Full width at half height of a Gaussian: sqrt(8 ln 2)."""
    eye = Eye("screen", 0.093)
    assert eye.sigma_percent == pytest.approx(0.093 / 2.3548, rel=1e-4)
    assert eye.sigma_px(BODY) == pytest.approx(0.093 / 2.3548 / 100 * 4000, rel=1e-4)
    assert eye.width_px(BODY) == pytest.approx(3.72)


def test_without_a_purpose_it_is_a_screen():
    assert eye_of_purpose(Purpose()) == Eye("screen", 100 / 1080, "screen")


def test_on_the_sky_a_longer_lens_gets_a_wider_eye():
    """Twice the focal length shows a patch twice as large: shown at equal size, its pixels are
    half as wide, so the eye covers twice as many."""
    eye = eye_of("screen")
    arcmin = eye_arcmin(eye, BODY, 16.0)
    assert arcmin == pytest.approx(60 * math.degrees(eye.width_px(BODY) * 3.9e-3 / 16), rel=1e-5)
    assert eye_on_sky(eye, arcmin, BODY, 32.0).eye_percent == pytest.approx(2 * eye.eye_percent)
    assert eye_on_sky(eye, arcmin, BODY, 16.0).eye_percent == pytest.approx(eye.eye_percent)


def test_an_eye_without_width_is_refused():
    with pytest.raises(ValueError, match="eye_percent is 0; the eye's blur is above 0 and at most"):
        Eye("screen", 0.0)
