"""The rules for the longest exposure against published examples."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nightglass.gear.body import Body
from nightglass.light.defaults import TRAIL_LIMIT
from nightglass.light.rules import (
    RULE_KEYS,
    Situation,
    blur_share_s,
    centre_time_s,
    centre_trail_mm,
    npf_full_s,
    npf_simple_s,
    pixels_s,
    rule_time,
    rule_times,
)

FULL_FRAME = Body("full frame", 4.35, 8276, 5517)  # 36.0 x 24.0 mm
LOW_SENSOR = Body("15.6 mm high", 6.0, 3900, 2600)  # 23.4 x 15.6 mm


def test_npf_as_published():
    # k (16.9 N + 0.10 f + 13.7 p) / (f cos d): F. Michaud, Société Astronomique du Havre, "La
    # règle NPF" (rule of 2010); read and recomputed.
    at = Situation(FULL_FRAME, 24, 2.8)
    assert npf_full_s(at, 1) == pytest.approx(4.5548, abs=1e-4)
    assert npf_full_s(Situation(FULL_FRAME, 24, 2.8, -29.0), 1) == pytest.approx(5.2077, abs=1e-4)
    assert npf_full_s(Situation(FULL_FRAME, 14, 2.8), 1) == pytest.approx(7.7368, abs=1e-4)
    # Simplified, same page.
    assert npf_simple_s(at) == pytest.approx(9.5208, abs=1e-4)
    # Unrounded coefficients seen elsewhere, 16.856, 0.0997, 13.713: 4.5517 s, within 0.1 %.
    assert npf_full_s(at, 1) == pytest.approx(4.5517, rel=1e-3)


def test_what_npf_lets_through():
    # k = 1 draws 1.83 px, not 1; 1.40 px at f/1.8, 20 mm, 5.9 um. Derived.
    trail = centre_trail_mm(24, npf_full_s(Situation(FULL_FRAME, 24, 2.8), 1))
    assert trail * 1000 / 4.35 == pytest.approx(1.83, abs=5e-3)
    wide = Situation(Body("large pixels", 5.9, 6000, 4000), 20, 1.8)
    assert centre_trail_mm(20, npf_full_s(wide, 1)) * 1000 / 5.9 == pytest.approx(1.40, abs=5e-3)


def test_rules_side_by_side():
    # 24 mm f/1.4, 4.3 um on 24 mm of height: 500 rule 20.8 s 0.152 %, simple NPF 7.4 s 0.054 %,
    # full NPF 3.5 s 0.026 %. Computed trade values.
    body = Body("full frame", 4.3, 8372, 5581)
    found = {rule.key: rule for rule in rule_times(Situation(body, 24, 1.4))}
    for key, seconds, percent in (("500", 20.8, 0.152), ("npf", 7.4, 0.054), ("npf1", 3.5, 0.026)):
        assert found[key].limit_s == pytest.approx(seconds, abs=0.06)
        assert found[key].trail_percent == pytest.approx(percent, abs=6e-4)
    assert all(rule.source for rule in found.values())
    assert "blur" not in found


def test_five_hundred_rule_by_the_crop():
    # Always 36.46 um on full frame at declination 0 (trade rule): 0.152 % of 24 mm; on a smaller
    # sensor 500 / (crop f) leaves the same share of the diagonal.
    for focal_mm in (14, 35):
        rule = rule_time("500", Situation(FULL_FRAME, focal_mm, 2.8))
        assert centre_trail_mm(focal_mm, rule.limit_s) == pytest.approx(0.03646, abs=1e-5)
        half = rule_time("500", Situation(Body("half", 4.35, 4138, 2758), focal_mm / 2, 2.8))
        assert half.limit_s == pytest.approx(rule.limit_s, rel=1e-3)


def test_default_limit_is_360_over_f_on_the_sensor_where_it_was_made():
    # Common practice.
    for focal_mm in (10, 16, 24, 50):
        at = Situation(LOW_SENSOR, focal_mm, 2.8)
        assert rule_time("limit", at).limit_s == pytest.approx(360 / focal_mm, rel=1e-5)
        assert rule_time("360", at).limit_s == 360 / focal_mm
        assert rule_time("limit", at).trail_percent == pytest.approx(TRAIL_LIMIT.value)


def test_the_default_limit_does_not_move_with_declination():
    near_pole = rule_time("limit", Situation(LOW_SENSOR, 24, 2.8, 60.0))
    assert near_pole.limit_s == pytest.approx(15.0, rel=1e-5)
    assert near_pole.trail_percent == pytest.approx(TRAIL_LIMIT.value / 2)


@given(st.floats(8, 85), st.floats(-80, 80), st.floats(0.5, 20))
def test_pixels_and_shares_of_blur_are_round_trips(focal_mm, declination, pixels):
    at = Situation(FULL_FRAME, focal_mm, 2.8, declination, pixels=pixels)
    trail = centre_trail_mm(focal_mm, pixels_s(at), declination)
    assert trail * 1000 / 4.35 == pytest.approx(pixels)
    assert centre_time_s(trail, focal_mm, declination) == pytest.approx(pixels_s(at))
    blurred = Situation(
        FULL_FRAME, focal_mm, 2.8, declination, blur_length_px=2 * pixels, blur_share=0.5
    )
    assert blur_share_s(blurred) == pytest.approx(pixels_s(at))
    assert {rule.key for rule in rule_times(blurred)} == set(RULE_KEYS)


def test_names_show_the_choices():
    at = Situation(FULL_FRAME, 24, 2.8, pixels=3, blur_length_px=6.0, blur_share=0.7)
    assert rule_time("pixels", at).name == "3 pixels"
    assert rule_time("blur", at).name == "0.7 of the lens's own blur"


def test_bad_input():
    at = Situation(FULL_FRAME, 24, 2.8)
    with pytest.raises(ValueError, match="rule 'thumb' is not known; use one of limit, 360, 500"):
        rule_time("thumb", at)
    with pytest.raises(ValueError, match="k is 4; the NPF rule was published for 1"):
        npf_full_s(at, 4)
    with pytest.raises(ValueError, match="blur_length_px is not known; measure the lens first"):
        rule_time("blur", at)
    with pytest.raises(ValueError, match="f_number is 0; it must be above 0"):
        Situation(FULL_FRAME, 24, 0)
    with pytest.raises(ValueError, match="declination_degrees is 90; between -90 and 90"):
        Situation(FULL_FRAME, 24, 2.8, 90)
