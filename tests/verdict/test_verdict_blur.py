"""Blur over the frame: worst zone, the trail through it, and noise areas between zones."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from nightglass.bench.records import Combined
from nightglass.optics.extent import extent, trailed
from nightglass.verdict.blur import (
    _trails_around,
    equator_aim,
    ring_weights,
    tightness,
    trailed_area_factor,
    usable_zones,
    worst_zone,
    zone_noise_area_px,
)

PX_PER_PERCENT = 25.92
"""Picture height 2592 px."""


def test_lens_tightness_is_the_longest_spot_in_percent_of_height(build):
    zones = (build.zone("centre", (5.0,)), build.zone("top left", (7.776,)))
    found = tightness(zones, build.body, 12, 1.0)
    assert found.lens_percent == pytest.approx(0.3)
    assert found.worst_place == "top left"
    assert not found.at_limit


def test_without_motion_the_trail_adds_nothing(build):
    zones = (build.zone("centre", (8.0,)),)
    still = tightness(zones, build.body, 12, 1e-6)
    assert still.trailed_percent == pytest.approx(8.0 / PX_PER_PERCENT, abs=0.05 / PX_PER_PERCENT)


def test_a_trail_much_longer_than_the_spot_is_nine_tenths_of_itself(build):
    # An even line of length L has a length of 0.9 L (the central 90 %). At the centre of a 20 mm
    # frame f x 7.2921e-5 x t / pitch: 300 s draw 72.3 px; a 4 px spot adds little in quadrature.
    zones = (build.zone("centre", (4.0,)),)
    found = tightness(zones, build.body, 20, 300)
    trail_px = 20 * 7.2921e-5 * 300 * 1000 / 6.05
    assert found.trailed_percent * PX_PER_PERCENT == pytest.approx(0.9 * trail_px, rel=0.01)


def test_trail_goes_through_the_worst_direction(build):
    # At the frame centre stars move along the long side (x). A spot along x is lengthened most.
    # Its own direction at a corner is turned through all four corners, so both spots do alike.
    along = build.zone("centre", (10.0,), width_share=0.4, angle_degrees=0)
    across = build.zone("centre", (10.0,), width_share=0.4, angle_degrees=90)
    first = tightness((along,), build.body, 20, 30).trailed_percent
    second = tightness((across,), build.body, 20, 30).trailed_percent
    assert first > 1.1 * second


@pytest.mark.parametrize("place", ["top left", "bottom right"])
def test_mirrored_corners_and_spots_give_one_answer(build, place):
    angle = math.degrees(math.atan2(2591 * 0.88, 3871 * 0.88))
    zones = (build.zone(place, (9.0,), width_share=0.5, angle_degrees=angle),)
    found = tightness(zones, build.body, 12, 30).trailed_percent
    other = (build.zone("bottom right", (9.0,), width_share=0.5, angle_degrees=angle),)
    assert found == pytest.approx(tightness(other, build.body, 12, 30).trailed_percent, rel=1e-3)


def test_corner_trail_is_longer_than_the_centre_trail(build):
    # A 12 mm corner on this sensor: rectilinear scale makes the trail about 2.8 times longer.
    centre = tightness((build.zone("centre", (4.0,)),), build.body, 12, 60)
    corner = tightness((build.zone("top left", (4.0,)),), build.body, 12, 60)
    assert corner.trailed_percent > 1.5 * centre.trailed_percent


def test_worst_direction_agrees_with_trying_all(build):
    # By other means: draw the stamp along every trail of its ring and measure each.
    zone = build.zone("top left", (9.0,), width_share=0.5, angle_degrees=20)
    found = tightness((zone,), build.body, 12, 30).trailed_percent
    trails, against = _trails_around(zone, build.body, 12, 30, "rectilinear")
    wide = np.pad(np.asarray(zone.stamp, dtype=float), 40)
    tried = [
        extent(trailed(wide, float(t), float(a))).length_px
        for t, a in zip(trails, against, strict=True)
    ]
    assert found * PX_PER_PERCENT == pytest.approx(max(tried), rel=0.01)


def test_at_limit_counts_with_its_upper_bound(build):
    zones = (build.zone("centre", at_most_px=3.4), build.zone("top left", (3.0,)))
    found = tightness(zones, build.body, 12, 1e-6)
    assert found.lens_percent == pytest.approx(3.4 / PX_PER_PERCENT)
    assert found.at_limit
    assert found.lens_percent_err is None
    assert found.trailed_percent >= 0.98 * found.lens_percent


def test_zones_without_any_size_are_left_out(build):
    none = Combined(None, None)
    blind = replace(build.zone("top left"), length_px=none, width_px=none)
    result = build.setting(build.wren)
    result = replace(result, zones=(*result.zones, blind))
    assert blind not in usable_zones(result)


def test_no_zone_at_all_says_what_to_do():
    with pytest.raises(ValueError, match="measure at least one place of the frame"):
        worst_zone(())


def test_noise_area_of_an_unmeasured_one_is_that_of_a_gaussian(build):
    zone = build.zone("centre", at_most_px=3.289707)
    # Standard deviation 1 px: (sum)^2 / sum of squares = 4 pi.
    assert zone_noise_area_px(zone) == pytest.approx(4 * math.pi)


@settings(
    max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    length=st.floats(4, 20),
    share=st.floats(0.4, 1),
    angle=st.floats(0, 180),
    trail=st.floats(0, 25),
    direction=st.floats(0, 180),
)
def test_trailed_noise_area_agrees_with_drawing_the_trail(
    build, length, share, angle, trail, direction
):
    # No rebuilt spot is narrower than 2.5 px, and samples 1 px apart would not hold one.
    assume(length * share >= 2.5)
    # By other means: the spot is drawn along the trail and its noise area taken from the picture.
    zone = build.zone("centre", (length,), width_share=share, angle_degrees=angle)
    factor = trailed_area_factor(zone, np.array([trail]), np.array([direction]))[0]
    stamp = np.pad(np.asarray(zone.stamp, dtype=float), 30)
    drawn = trailed(stamp, trail, direction)
    sharp = stamp.sum() ** 2 / (stamp**2).sum()
    assert factor * sharp == pytest.approx(drawn.sum() ** 2 / (drawn**2).sum(), rel=0.02)


def test_weights_interpolate_over_field_radius_and_share_a_ring(build):
    zones = (build.zone("centre"), build.zone("top left"), build.zone("bottom right"))
    edge = zones[1].field_radius
    weights = ring_weights(zones, np.array([0.0, edge / 2, edge, 1.0]))
    assert weights[:, 0] == pytest.approx([1, 0, 0])
    assert weights[:, 1] == pytest.approx([0.5, 0.25, 0.25])
    assert weights[:, 2] == pytest.approx([0, 0.5, 0.5])
    assert weights[:, 3] == pytest.approx([0, 0.5, 0.5])


def test_nothing_is_guessed_far_from_measured_places(build):
    centre = ring_weights((build.zone("centre"),), np.array([0.0, 0.29, 0.31, 1.0]))
    assert np.isnan(centre[0]).tolist() == [False, False, True, True]
    corner = ring_weights((build.zone("top left"),), np.array([0.0, 0.5, 0.6, 1.0]))
    assert np.isnan(corner[0]).tolist() == [True, True, False, False]


def test_an_upright_sensor_is_aimed_with_its_long_side_east_to_west(build):
    upright = replace(build.body, width_px=2592, height_px=3872)
    assert equator_aim(build.body).roll_degrees == 0
    assert equator_aim(upright).roll_degrees == 90


def test_inputs_stay_unchanged(build):
    zone = build.zone("top left", (8.0,))
    before = zone.stamp.copy()
    tightness((zone,), build.body, 12, 30)
    trailed_area_factor(zone, np.array([5.0]), np.array([10.0]))
    assert np.array_equal(zone.stamp, before)
