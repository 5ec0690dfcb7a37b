"""Longest times under every rule, with a remote release and on the dial."""

import math
from dataclasses import replace

import pytest

from nightglass.gear.benchfile import TimeChoice
from nightglass.verdict.times import (
    all_rules,
    fastest_over_centre,
    longest_times,
    times_within,
)


@pytest.mark.parametrize(
    ("focal_mm", "marked_s"), [(10, 30), (12, 30), (15, 25), (16, 20), (20, 15), (24, 15)]
)
def test_dial_times_of_the_working_rule(build, focal_mm, marked_s):
    # Common practice: 360 / focal length on a sensor 15.6 mm high, longest step up to 1.07 over.
    body = replace(build.body, pitch_um=15600 / 2592)
    times = longest_times(TimeChoice(), body, focal_mm, 2.8).centre
    assert times.limit_s == pytest.approx(360 / focal_mm, rel=1e-4)
    assert times.dial_marked_s == marked_s


def test_what_the_dial_costs_is_signed(build):
    body = replace(build.body, pitch_um=15600 / 2592)
    # 15 mm: limit 24 s, the step 25 is 2^(14/3) = 25.40 s: a gain of log2(25.40 / 24) stops.
    assert longest_times(TimeChoice(), body, 15, 2.8).centre.dial_gain_stops == pytest.approx(
        math.log2(2 ** (14 / 3) / 24), abs=1e-3
    )
    # 16 mm: limit 22.5 s, the step 20 is 2^(13/3) = 20.16 s: a cost.
    assert longest_times(TimeChoice(), body, 16, 2.8).centre.dial_gain_stops == pytest.approx(
        math.log2(2 ** (13 / 3) / 22.5), abs=1e-3
    )


def test_the_360_rule_is_360_over_f_on_every_sensor(build):
    body = replace(build.body, pitch_um=6.0, width_px=6000, height_px=4000)
    plain = longest_times(TimeChoice(rule="360 rule"), body, 20, 2.8).centre
    assert plain.limit_s == 18.0
    # The default trail on a sensor 24 mm high is 554 / f (common practice).
    assert longest_times(TimeChoice(), body, 20, 2.8).centre.limit_s == pytest.approx(
        554 / 20, rel=1e-3
    )


def test_corners_of_a_14_mm_frame_move_2_87_times_as_fast(build):
    """36 x 24 mm at declination 0: the corner's trail over the centre's (2.8731 by hand: the star
    in the corner, not the corner's path of the centre's star, which is 3.25)."""
    body = replace(build.body, pitch_um=6.0, width_px=6000, height_px=4000)
    assert fastest_over_centre((36.0, 24.0), 14.0) == pytest.approx(2.873, abs=1e-3)
    times = longest_times(TimeChoice(), body, 14, 2.8)
    assert times.centre.limit_s / times.corners.limit_s == pytest.approx(2.873, abs=1e-3)
    assert times.chosen is times.centre
    assert times.other is times.corners
    held = longest_times(TimeChoice(holds_at="corners"), body, 14, 2.8)
    assert (held.chosen, held.other) == (times.corners, times.centre)


def test_what_a_remote_and_a_dial_set(build):
    times = times_within(24.0, 30.0)
    assert (times.shown_s("dial"), times.true_s("dial")) == (25.0, pytest.approx(25.398, abs=1e-3))
    assert times.shown_s("remote") == times.true_s("remote") == pytest.approx(25.398, abs=1e-3)


def test_a_declination_lengthens_the_trail_limit_by_its_cosine(build):
    equator = longest_times(TimeChoice(), build.body, 20, 2.8).centre.limit_s
    # cos 60 degrees = 1/2.
    turned = longest_times(TimeChoice(declination_degrees=60), build.body, 20, 2.8).centre.limit_s
    assert turned == pytest.approx(2 * equator)


def test_share_of_blur_is_a_trail_of_that_share(build):
    choice = TimeChoice(rule="share of blur", share=0.5)
    times = longest_times(choice, build.body, 20, 2.8, blur_length_px=8.0).centre
    # Trail 4 px of 6.05 um = 24.2 um = 20 mm x 7.2921e-5 x t.
    assert times.limit_s == pytest.approx(0.0242 / (20 * 7.2921e-5), rel=1e-4)


def test_500_rule_draws_36_um_on_full_frame(build):
    # Trade rule; its trail on 36 x 24 mm is 500 x 7.2921e-5 = 0.03646 mm for every focal length.
    body = replace(build.body, pitch_um=6.0, width_px=6000, height_px=4000)
    for focal_mm in (14, 24, 50):
        limit_s = longest_times(TimeChoice(rule="500 rule"), body, focal_mm, 2.8).centre.limit_s
        assert focal_mm * 7.2921e-5 * limit_s == pytest.approx(0.03646, rel=1e-3)


def test_npf_as_published(build):
    # F. Michaud, SAH: N 2.8, f 24 mm, p 4.35 um, declination 0, k 1: 4.5548 s; simple 9.5208 s.
    body = replace(build.body, pitch_um=4.35)
    full = longest_times(TimeChoice(rule="npf full"), body, 24, 2.8).centre.limit_s
    simple = longest_times(TimeChoice(rule="npf simple"), body, 24, 2.8).centre.limit_s
    assert full == pytest.approx(4.5548, abs=1e-3)
    assert simple == pytest.approx(9.5208, abs=1e-3)


def test_every_rule_stands_side_by_side_in_percent_of_height(build):
    rows = all_rules(TimeChoice(), build.body, 20, 1.8, blur_length_px=6.0)
    assert len({row.key for row in rows}) == len(rows) >= 9
    for row in rows:
        trail_mm = 20 * 7.2921e-5 * row.limit_s
        assert row.trail_percent == pytest.approx(100 * trail_mm / 15.6816, rel=1e-4)


def test_unknown_rule_lists_the_allowed_ones(build):
    with pytest.raises(ValueError, match='rule "600 rule" is not known; use one of trail'):
        longest_times(TimeChoice(rule="600 rule"), build.body, 20, 2.8)


def test_blur_rule_without_a_blur_says_what_to_do(build):
    with pytest.raises(ValueError, match="measure the lens first or choose another rule"):
        longest_times(TimeChoice(rule="share of blur", share=1), build.body, 20, 2.8)
