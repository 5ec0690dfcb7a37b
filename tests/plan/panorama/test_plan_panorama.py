"""Panoramas on the sphere, their gain, stacks and the usable share."""

import math
from datetime import UTC, date, datetime

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nightglass.almanac.place import Place
from nightglass.gear.body import Body
from nightglass.light.falloff import FalloffSource, PupilFalloff
from nightglass.plan.aim import local_time
from nightglass.plan.camera import Pointing, Shot, inside_frame
from nightglass.plan.codes import PanoramaRemark, StackRemark
from nightglass.plan.depth import (
    DepthChoice,
    depth,
    frames_for,
    light_stops,
    limiting_mag_of,
    snr_of,
)
from nightglass.plan.panorama.area import arch, box, like_frame, vectors
from nightglass.plan.panorama.compare import against_wide, longest_for
from nightglass.plan.panorama.panorama import Pace, plan_panorama, used_share
from nightglass.plan.panorama.rows import (
    azimuth_spanned_degrees,
    frames_for_turn,
    height_of_view_degrees,
)
from nightglass.plan.panorama.usable import lit_share, usable_of, usable_share
from nightglass.plan.stack import StackGoal, common_share, plan_stack, useful_time_s
from nightglass.plan.tolerance import Tolerance
from nightglass.show.plan.panorama.words import against_words, area_words, remark_words

FULL = Body("full", 6.0, 6000, 4000)
PACE = Pace(10.0)


def test_azimuth_spanned_by_a_tilted_frame():
    # Geometry: 2 atan((w / 2 f) / cos a); 20 mm on 36 mm at 0, 30, 45 degrees, and frames for a
    # whole turn at 30 % overlap
    shot = Shot(FULL, 20, 1.8)
    spans = [azimuth_spanned_degrees(shot, a) for a in (0, 30, 45)]
    assert spans == pytest.approx([83.97, 92.20, 103.69], abs=0.01)
    assert [frames_for_turn(shot, a, 0.3) for a in (0, 30, 45)] == [7, 6, 5]


def test_common_practice_of_rows():
    # Common practice for a level row of 180 degrees at 40 % overlap: 24 mm 5, 35 mm 8, 50 mm 11
    # frames, portrait; counted by span / step without the gain of the last frame's rim
    found = []
    for focal in (24, 35, 50):
        shot = Shot(FULL, focal, 1.4, portrait=True)
        found.append(180 / (azimuth_spanned_degrees(shot, 0) * 0.6))
    assert [math.ceil(f) for f in found] == [6, 8, 12]
    assert found == pytest.approx([5.65, 7.90, 11.1], abs=0.05)


def test_height_of_view():
    # 2 atan(d / 2 f): 53.130 degrees for 24 mm on 24 mm
    assert height_of_view_degrees(Shot(FULL, 24, 2)) == pytest.approx(53.130, abs=1e-3)


def held(plan, share=1.0):
    directions = vectors(plan.area)
    covered = np.zeros(len(directions), dtype=bool)
    for frame in plan.frames:
        covered |= inside_frame(plan.shot, directions @ frame.pointing.axes().T, share)
    return covered


@settings(max_examples=25, deadline=None)
@given(
    st.sampled_from([14.0, 20.0, 24.0, 35.0]),
    st.booleans(),
    st.floats(20, 360),
    st.floats(-10, 20),
    st.floats(10, 55),
    st.floats(0, 359),
)
def test_every_direction_lies_in_a_frame(focal, portrait, width, low, tall, middle):
    area = box(middle, width, low, min(88.0, low + tall))
    plan = plan_panorama(Shot(FULL, focal, 1.8, portrait=portrait), area, PACE)
    assert held(plan).all()
    assert [f.number for f in plan.frames] == list(range(1, len(plan.frames) + 1))
    heights = [r.altitude_degrees for r in plan.rows]
    assert heights == sorted(heights)


def test_seams_use_only_the_usable_middle():
    shot = Shot(FULL, 35, 1.4, portrait=True)
    area = box(180, 150, -5, 55)
    plan = plan_panorama(shot, area, PACE, usable_share=0.7)
    everywhere = plan_panorama(shot, area, PACE)
    assert len(plan.frames) >= len(everywhere.frames)
    margin = 0.15 * height_of_view_degrees(shot)
    inner = (np.abs(area.away_degrees) < 75 - 2 * margin) & (area.altitude_degrees > -5 + margin)
    inner &= area.altitude_degrees < 55 - margin
    assert held(plan, 0.7)[inner].all()
    # The unusable 30 % and 5 % for the seam; without a bench the usual 35 %.
    assert (used_share(plan), used_share(everywhere)) == pytest.approx((0.65, 0.65))


def test_a_lens_good_to_its_corners_still_overlaps_enough_to_be_joined():
    # Common practice: 30 to 40 %.
    shot, area = Shot(FULL, 35, 1.4, portrait=True), box(180, 90, 0, 30)
    overlaps = [plan_panorama(shot, area, PACE, None, share).overlap for share in (1, 0.9, 0.6)]
    assert overlaps == pytest.approx([0.3, 0.3, 0.45])
    assert plan_panorama(shot, area, PACE, 0.15, 0.9).overlap == 0.15  # named by the person


@pytest.mark.parametrize(
    ("pace", "message"),
    [
        ({"exposure_s": 0.0}, "a frame of 0 s; its true time is above 0"),
        ({"exposure_s": float("nan")}, "a frame of nan s"),
        ({"exposure_s": 10.0, "saving_s": -1.0}, "saving takes -1 s; it can't be negative"),
        ({"exposure_s": 10.0, "moving_s": -1.0}, "turning takes -1 s; it can't be negative"),
    ],
)
def test_a_pace_that_is_none(pace, message):
    with pytest.raises(ValueError, match=message):
        Pace(**pace)


def test_what_the_wide_frame_shows_is_counted_on_the_sphere():
    wide = Shot(FULL, 14, 2.8)
    level, tilted = like_frame(wide, Pointing(0, 180)), like_frame(wide, Pointing(35, 180))
    # Angles of view of 14 mm: 104.25 x 81.20 degrees; tilted, the azimuth spanned grows
    assert level.width_degrees == pytest.approx(104.25, abs=0.01)
    assert level.high_degrees == pytest.approx(40.60, abs=0.01)
    assert tilted.width_degrees > 150
    plan = plan_panorama(Shot(FULL, 35, 1.4, portrait=True), tilted, PACE)
    assert held(plan).all()


def test_a_wide_frame_that_holds_the_zenith_is_covered_all_round():
    area = like_frame(Shot(FULL, 14, 2.8), Pointing(80, 180))
    plan = plan_panorama(Shot(FULL, 24, 1.4, portrait=True), area, PACE)
    assert held(plan).all()


def test_the_arch_from_horizon_to_horizon():
    place = Place("hills", 44, 6, zone_name="Europe/Paris")
    found = arch(place, local_time("02:30", place, date(2027, 5, 6)))
    assert 200 < found.width_degrees < 240
    assert found.high_degrees == pytest.approx(50, abs=2)
    assert area_words(found).startswith("the Milky Way's arch, up to 40° high")
    with pytest.raises(ValueError, match="from the zenith: no arch"):
        arch(Place("karoo", -31, 21), datetime(2027, 6, 14, 22, 30, tzinfo=UTC))


@pytest.mark.parametrize(
    ("numbers", "message"),
    [
        ((180, 400, 0, 30), "width 400 is not between 0 and 360"),
        ((180, 90, 10, 100), "reaches 100 degrees: rows can't pass the zenith"),
        ((180, 90, 40, 10), "the lower one comes first"),
        ((180, 90, -50, 10), "from -30 up"),
    ],
)
def test_areas_that_are_none(numbers, message):
    with pytest.raises(ValueError, match=message):
        box(*numbers)


def test_a_zenith_that_can_not_be_closed():
    with pytest.raises(ValueError, match="the panorama can't be closed: rows up to 90° leave gaps"):
        plan_panorama(Shot(FULL, 300, 2.8), box(180, 360, 60, 90), PACE, usable_share=0.3)


@pytest.mark.parametrize(
    ("overlap", "usable", "message"),
    [
        (0.95, None, "overlap 95 % is above 90 %: hardly anything of each frame would be new"),
        (0.05, None, "overlap 5 % is below 10 %: frames could not be joined"),
        (None, 0.05, "overlap 95 % is above 90 %"),
        (None, 1.5, "usable share 1.5 is not between 0 and 1"),
    ],
)
def test_overlaps_outside(overlap, usable, message):
    with pytest.raises(ValueError, match=message):
        plan_panorama(Shot(FULL, 24, 1.4), box(0, 90, 0, 30), PACE, overlap, usable)


def test_time_drift_and_space():
    shot = Shot(FULL, 35, 1.4, portrait=True)
    plan = plan_panorama(shot, box(180, 150, -5, 70), Pace(10, 2, 6))
    n = len(plan.frames)
    assert plan.total_s == pytest.approx(n * 18 - 6)
    assert plan.frames[-1].start_s == pytest.approx((n - 1) * 18)
    apart = max(a.frames + b.frames - 1 for a, b in zip(plan.rows, plan.rows[1:], strict=False))
    # 15.041 arcseconds a second at the equator of the sky
    assert plan.row_drift_degrees == pytest.approx(apart * 18 * 15.0410672 / 3600, rel=1e-6)
    assert plan.megabytes == pytest.approx(n * 24 * 1.3)
    slow = plan_panorama(shot, box(180, 150, -5, 70), Pace(10, 2, 6, dark_frame=True))
    assert slow.total_s == pytest.approx(n * 28 - 6)
    assert PanoramaRemark.DARK_FRAME in slow.remarks
    late = plan_panorama(shot, box(180, 300, -5, 70), Pace(60, 2, 6))
    assert remark_words(late.remarks[0], late).startswith(
        f"{late.total_s / 60:.0f} minutes is long"
    )


def all_sky(limit_percent: float) -> Tolerance:
    return Tolerance(limit_percent, "corners")


def test_longest_time_for_all_frames_of_a_plan():
    shot = Shot(FULL, 24, 1.4)
    east, pole = Pointing(30, 90), Pointing(45, 0)
    both = longest_for(shot, [east, pole], 45, all_sky(0.168))
    assert both == longest_for(shot, [east], 45, all_sky(0.168))
    assert both < longest_for(shot, [pole], 45, all_sky(0.168))
    assert longest_for(shot, [east], 45, all_sky(0.168), used_share=0.5) > both
    # on the axis f x 7.2921e-5 x t: 24 mm, 20 s, 35.002 um at declination 0
    axis = longest_for(shot, [Pointing(45, 180)], 45, all_sky(100 * 0.035002 / 24), used_share=1e-6)
    assert axis == pytest.approx(20, abs=0.01)


def test_gain_over_the_wide_frame():
    # Pupils of 24 mm f/1.4 and 14 mm f/2.8 (exact powers): (24 / 1.4142)^2 / (14 / 2.8284)^2
    narrow, wide = Shot(FULL, 24, 1.4), Shot(FULL, 14, 2.8)
    stops = math.log2((24 / 2**0.5) ** 2 / (14 / 2**1.5) ** 2)
    assert light_stops(narrow, 10, wide, 10) == pytest.approx(stops)
    assert light_stops(narrow, 20, wide, 10) == pytest.approx(stops + 1)
    plan = plan_panorama(narrow, like_frame(wide, Pointing(30, 180)), Pace(10))
    found = against_wide(plan, wide, 15.0)
    assert found.light_stops == pytest.approx(stops - math.log2(1.5))
    assert found.detail_times == pytest.approx(24 / 14)
    assert found.stars_gain_percent > 100
    assert found.frames_in_same_time == int((plan.total_s + 2) // 17)


def test_the_crossover_is_where_the_stack_is_as_deep():
    narrow, wide = Shot(FULL, 24, 2.8), Shot(FULL, 14, 2.8)
    plan = plan_panorama(narrow, like_frame(wide, Pointing(30, 180)), Pace(15))
    found = against_wide(plan, wide, 20.0)
    n = found.frames_as_deep
    assert limiting_mag_of(wide, 20, n) >= found.limiting_mag - 1e-9
    assert limiting_mag_of(wide, 20, n - 1) < found.limiting_mag
    does_as_well = n <= found.frames_in_same_time
    assert (found.code == "stack_as_deep") is does_as_well
    assert ("the stack does as well" in against_words(found)) is does_as_well


def test_depth_of_a_frame():
    # Sky photons per pixel do not depend on the focal length: 1.624 per second at 21.6 mag,
    # f/2.8, 4.35 um (derived from 8.79e9 photons at V = 0); here x 0.5 electrons per photon
    body = Body("small pixels", 4.35, 8000, 5400)
    one = depth(Shot(body, 24, 2.8), 10.0)
    # and through glass that passes 0.85 of the light.
    assert one.sky_e / 10 / 0.5 / 0.85 == pytest.approx(1.624, rel=0.03)
    assert snr_of(Shot(body, 24, 2.8), 10, one.limiting_mag) == pytest.approx(5)
    deeper = depth(Shot(body, 24, 2.8), 10.0, DepthChoice(noise_area_px=6.0))
    assert deeper.limiting_mag > one.limiting_mag
    with pytest.raises(ValueError, match="an exposure time is above 0"):
        depth(Shot(body, 24, 2.8), 0)


def test_frames_for_a_depth():
    shot = Shot(FULL, 24, 2.8)
    at_limit = depth(shot, 15).limiting_mag
    assert frames_for(shot, 15, at_limit, None) == 1
    n = frames_for(shot, 15, at_limit + 1, None)
    assert limiting_mag_of(shot, 15, n) >= at_limit + 1 > limiting_mag_of(shot, 15, n - 1)


def test_stacks_for_a_noise_a_depth_and_a_number():
    shot, aim = Shot(FULL, 24, 1.4), Pointing(40, 180)
    quarter = plan_stack(shot, 32.0, aim, 45, StackGoal(noise_share=0.25))
    # Common practice: noise falls with 1 / sqrt(n), 4 frames a stop of noise; 16 frames 4 stops
    assert (quarter.frames, quarter.stops, quarter.noise_share) == (16, 4, 0.25)
    # The remote's interval is the true time (30 is 32) and the gap
    assert quarter.interval_s == 35
    assert quarter.total_s == 16 * 35 - 3
    deep = plan_stack(shot, 10.0, aim, 45, StackGoal(depth_mag=quarter.one.limiting_mag))
    assert deep.limiting_mag >= quarter.one.limiting_mag
    assert plan_stack(shot, 10.0, aim, 45, StackGoal(frames=10)).stops == pytest.approx(
        3.32, abs=0.01
    )


def test_when_more_frames_stop_helping():
    shot, south = Shot(FULL, 24, 1.4), Pointing(40, 180)
    useful = useful_time_s(shot, south, 45)
    assert common_share(shot, south, 45, useful) == pytest.approx(0.8, abs=0.02)
    assert common_share(shot, south, 45, 0) == 1
    plan = plan_stack(shot, 20, south, 45, StackGoal(frames=400))
    assert plan.useful_frames < 400
    assert StackRemark.HAS_DRIFTED in plan.remarks
    # land against stars: f x 7.2921e-5 x t x cos(declination) at the centre, 24 mm high
    expected = 100 * 24 * 7.2921151e-5 * (plan.total_s - 20) * math.cos(math.radians(-5)) / 24
    assert plan.drift_percent == pytest.approx(expected, rel=1e-6)
    # a fisheye-like wide field about the pole keeps its stars all night
    round_sky = Shot(Body("square", 6.0, 4000, 4000), 12, 2.8)
    assert math.isinf(useful_time_s(round_sky, Pointing(45, 0), 45))


@pytest.mark.parametrize(
    ("wishes", "message"),
    [
        ({}, "name one wish"),
        ({"frames": 3, "noise_share": 0.5}, "name one wish"),
        ({"noise_share": 1.5}, "a noise of 150 % of one frame's is none; give above 0 to 100"),
        ({"frames": 5000}, "that takes more than 2000 frames; 1 to 2000 can be planned"),
        ({"depth_mag": 25.0}, "1 to 2000 can be planned"),
        ({"frames": 3, "gap_s": -1}, "it can't be negative"),
    ],
)
def test_bad_stacks(wishes, message):
    gap_s = wishes.get("gap_s", 3.0)
    wish = {k: v for k, v in wishes.items() if k != "gap_s"}
    shot = Shot(FULL, 24, 2.8)
    with pytest.raises(ValueError, match=message):
        plan_stack(shot, 10.0, Pointing(40, 180), 45, StackGoal(**wish), gap_s)


def test_light_limits_the_usable_share_where_a_stop_is_lost():
    # 10 log10(2) / 4 = 0.752575 mag are a stop: q^2 alone of 1.2 mag loses it at sqrt(0.62715).
    falloff = PupilFalloff((1.2, 0.0), (0.0, 0.0, 0.0), FalloffSource.FLAT)
    assert lit_share(falloff) == pytest.approx(math.sqrt(0.752575 / 1.2), abs=0.006)
    even = PupilFalloff((0.5, 0.0), (0.0, 0.0, 0.0), FalloffSource.FLAT)
    assert lit_share(even) == 1
    shot = Shot(FULL, 20, 1.8)
    assert usable_of(None, shot, falloff=falloff) == lit_share(falloff)
    assert usable_of(None, shot, falloff=even) is None


def test_usable_share_from_the_bench():
    zones = [(0.0, 0.1), (0.5, 0.2), (0.5, 0.15), (1.0, 0.4)]
    assert usable_share(zones, 0.25) == pytest.approx(0.625)
    assert usable_share(zones, 0.5) == 1
    assert usable_share([(0.0, 0.1), (0.6, 0.2)], 0.25) == 0.6  # beyond nothing is known
    with pytest.raises(ValueError, match="the usable share is not tested"):
        usable_share([], 0.25)
    with pytest.raises(ValueError, match="no part of the frame is usable"):
        usable_share([(0.0, 0.3)], 0.25)
