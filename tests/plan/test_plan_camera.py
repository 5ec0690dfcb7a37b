"""Camera geometry, aims and tonight's trails."""

import math
from dataclasses import replace
from datetime import date, datetime

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nightglass.almanac.horizon import Horizon
from nightglass.almanac.horizontal import equatorial
from nightglass.almanac.night import nights
from nightglass.almanac.place import Place
from nightglass.almanac.trail import star_declination_degrees
from nightglass.gear.body import Body
from nightglass.plan.aim import aim_wish, best_time, local_time
from nightglass.plan.camera import (
    Pointing,
    Shot,
    altitude_azimuth,
    frame_place,
    ground_vectors,
    inside_frame,
    place_in_frame,
    pointing_for,
    seen_from,
    sky_aim,
)
from nightglass.plan.codes import FramePlace
from nightglass.plan.framesky import frame_sky
from nightglass.plan.night.tonight import plan_tonight
from nightglass.plan.tolerance import Tolerance
from nightglass.show.plan.frame_words import PLACE_WORDS, shot_text, time_text
from nightglass.show.plan.night.tonight_text import light_words
from nightglass.verdict.times import times_within

FULL = Body("full", 6.0, 6000, 4000)
CAPE = Place("cape", -33.9, 18.4, zone_name="Africa/Johannesburg")
COAST = Place("coast", 52.1, 4.4, zone_name="Europe/Amsterdam")
heights = st.floats(-20, 89)
azimuths = st.floats(0, 359.9)


@given(heights, azimuths, st.floats(-40, 40), st.floats(-0.9, 0.9), st.floats(-0.9, 0.9))
def test_places_and_directions_are_a_pair(altitude, azimuth, roll, across, along):
    shot = Shot(FULL, 20, 1.8)
    pointing = Pointing(altitude, azimuth, roll)
    x, y = across * shot.width_mm / 2, along * shot.height_mm / 2
    back_x, back_y = place_in_frame(shot, pointing, *seen_from(shot, pointing, x, y))
    assert (back_x, back_y) == pytest.approx((x, y), abs=1e-8)


def test_right_is_right_and_down_is_down():
    shot = Shot(FULL, 24, 2.8)
    altitude, azimuth = seen_from(shot, Pointing(20, 180), [0, 10, 0], [0, 0, 5])
    assert azimuth[1] > azimuth[0]  # facing south, west is on the right
    assert altitude[2] < altitude[0]
    # rolled clockwise, the right side of the frame dips
    rolled, _ = seen_from(shot, Pointing(20, 180, 10), 10, 0)
    assert rolled < altitude[1]


@given(st.floats(-60, 60), st.floats(0, 80), azimuths, st.floats(-30, 30))
def test_the_aim_of_a_pointing_sees_the_same_declinations(latitude, altitude, azimuth, roll):
    # nightglass.almanac.trail works with the aim, the horizon frame with the pointing
    shot, pointing = Shot(FULL, 24, 2.8), Pointing(altitude, azimuth, roll)
    x, y = np.array([-17.0, 3.0, 12.0]), np.array([11.0, -4.0, 8.0])
    by_aim = star_declination_degrees(x, y, 24, sky_aim(pointing, latitude))
    _, by_ground = equatorial(*seen_from(shot, pointing, x, y), latitude)
    assert by_aim == pytest.approx(by_ground, abs=1e-6)


@given(st.floats(0, 55), azimuths, st.floats(-0.8, 0.8), st.floats(-0.8, 0.8), st.floats(-20, 20))
def test_a_target_lands_where_it_was_wished(altitude, azimuth, across, along, roll):
    shot = Shot(FULL, 24, 2.8)
    pointing = pointing_for(shot, (altitude, azimuth), (across, along), roll)
    x, y = place_in_frame(shot, pointing, altitude, azimuth)
    wished = (across * shot.width_mm / 2, along * shot.height_mm / 2)
    assert (float(x), float(y)) == pytest.approx(wished, abs=1e-6)


def test_no_level_camera_has_the_zenith_at_its_side():
    with pytest.raises(ValueError, match="no level camera puts a target 88° high at that place"):
        pointing_for(Shot(FULL, 24, 2.8), (88, 10), (0.7, 0))


def test_portrait_stands_upright():
    shot = Shot(FULL, 24, 1.4, portrait=True)
    assert (shot.width_mm, shot.height_mm) == (24, 36)
    assert shot.picture_height_mm == 24
    assert shot_text(shot) == "24 mm, f/1.4, portrait"


def test_the_rim_is_inside_and_a_share_is_smaller():
    shot = Shot(FULL, 20, 1.8)
    corner = np.array([18.0, 12.0, 20.0]) / np.linalg.norm([18.0, 12.0, 20.0])
    assert inside_frame(shot, corner)
    assert not inside_frame(shot, corner, 0.9)
    assert not inside_frame(shot, -corner)


def test_ground_vectors_are_a_pair():
    altitude, azimuth = altitude_azimuth(ground_vectors([10.0, -5.0], [350.0, 90.0]))
    assert altitude == pytest.approx([10, -5])
    assert azimuth == pytest.approx([350, 90])


def test_places_of_the_frame():
    shot = Shot(FULL, 20, 1.8)
    assert frame_place(shot, -17, 11) is FramePlace.LOWER_LEFT_CORNER
    assert frame_place(shot, 17, 0) is FramePlace.RIGHT_EDGE
    assert frame_place(shot, 0, -11) is FramePlace.UPPER_EDGE
    assert frame_place(shot, 2, 2) is FramePlace.CENTRE
    assert {frame_place(shot, x, y) for x in (-15, 0, 15) for y in (-9, 0, 9)} == set(FramePlace)
    assert PLACE_WORDS[FramePlace.LOWER_LEFT_CORNER] == "lower left corner"


def test_aims_as_typed():
    assert aim_wish("180 25").pointing == Pointing(25, 180)
    assert aim_wish("180°, 25°", 5).pointing == Pointing(25, 180, 5)
    left = aim_wish("centre of the Milky Way in the left third")
    assert left.share == pytest.approx((-2 / 3, 0))
    corner = aim_wish("Pleiades in the upper right third")
    assert corner.share == pytest.approx((2 / 3, -2 / 3))
    assert aim_wish("266.4 -29.0 in the middle").target is not None
    assert aim_wish("Orion nebula").share == (0, 0)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("180 -10", "the aim lies 10° below the horizon; aim at 0 to 90 degrees"),
        ("400 10", "azimuth 400 is not between 0 and 360"),
        ("180 95", "height 95 is above the zenith"),
        ("over there", '"over there" is no aim'),
        ("", "is no aim"),
    ],
)
def test_bad_aims(text, message):
    with pytest.raises(ValueError, match=message):
        aim_wish(text)


def test_clock_times_belong_to_the_night():
    evening = date(2027, 5, 6)
    assert local_time("23:15", COAST, evening).day == 6
    assert local_time("01:30", COAST, evening).day == 7
    assert local_time("2027-05-07 01:30", COAST, evening).isoformat().startswith("2027-05-07T01:30")
    with pytest.raises(ValueError, match="does not exist on 28 March 2027 in Europe/Amsterdam"):
        local_time("02:30", COAST, date(2027, 3, 27))
    with pytest.raises(ValueError, match="hours go to 23"):
        local_time("25:00", COAST, evening)
    with pytest.raises(ValueError, match="is no time; write the local clock"):
        local_time("midnight", COAST, evening)


def test_without_a_time_the_best_one_is_taken():
    (night,) = nights(CAPE, date(2027, 6, 4))
    assert best_time(night) == night.target.best_at
    (bright,) = nights(Place("north", 60, 20), date(2027, 6, 20))
    assert best_time(bright) == bright.sun_lowest_at


def tonight(text, focal=20.0, place=CAPE, clock="22:30", day=date(2027, 6, 4), **more):
    shot = Shot(FULL, focal, 1.8, portrait=more.pop("portrait", False))
    return plan_tonight(shot, place, local_time(clock, place, day), aim_wish(text), **more)


def test_the_governing_place_is_the_fastest_one_shown():
    plan = tonight("centre of the Milky Way in the left third")
    longest = plan.map.longest_s
    assert plan.shortest.longest_s == pytest.approx(np.nanmin(longest))
    assert np.nanmax(plan.map.trail_percent) == pytest.approx(plan.shortest.trail_percent, rel=1e-6)
    assert plan.shortest.trail_percent > plan.limit_percent
    assert plan.centre.trail_percent <= 1.07 * plan.limit_percent
    for times, place in ((plan.times.centre, plan.centre), (plan.times.corners, plan.shortest)):
        again = times_within(place.longest_s, plan.shot.body.dial_end_s)
        assert times.limit_s == pytest.approx(again.limit_s, rel=1e-12)
        assert times.dial_gain_stops == pytest.approx(again.dial_gain_stops, abs=1e-11)
        assert replace(times, limit_s=0, dial_gain_stops=0) == replace(
            again, limit_s=0, dial_gain_stops=0
        )
    held = tonight(
        "centre of the Milky Way in the left third", tolerance=Tolerance(holds_at="corners")
    )
    assert held.exposure_s == plan.times.corners.remote_s < plan.exposure_s
    assert held.shortest.trail_percent <= 1.07 * plan.limit_percent
    assert plan.target.declination_degrees == pytest.approx(-29.0, abs=0.1)
    # aimed at the equator the corner of 20 mm trails 2.070 times as long as f w t cos(declination
    # of that star), 24.1 degrees (tangent-plane projection of a rotated star, by brute force)
    equator = tonight("0 56.1")
    ratio = equator.centre.longest_s / equator.shortest.longest_s
    cosine = math.cos(math.radians(equator.shortest.declination_degrees))
    assert ratio / cosine == pytest.approx(2.070, abs=0.01)


def test_near_the_pole_far_longer_times():
    pole = tonight("180 33.9")
    assert pole.centre.longest_s > 20 * pole.shortest.longest_s
    assert abs(pole.aim.declination_degrees) > 89.9


def test_land_hides_the_governing_corner():
    open_sky = tonight("90 20", focal=14)
    hills = tonight("90 20", focal=14, horizon=Horizon((0.0,), (25.0,)))
    assert np.isnan(hills.map.longest_s).sum() > np.isnan(open_sky.map.longest_s).sum()
    assert hills.shortest.longest_s >= open_sky.shortest.longest_s
    with pytest.raises(ValueError, match="the frame shows no sky above your horizon"):
        tonight("90 5", focal=85, horizon=Horizon((0.0,), (40.0,)))


def test_rules_are_held_against_the_frame():
    plan = tonight("90 40", focal=24)
    by_name = {r.rule.key: r for r in plan.rules}
    assert by_name["500"].worst_trail_percent > by_name["300"].worst_trail_percent
    assert by_name["500"].worst_trail_percent > by_name["500"].rule.trail_percent


def test_a_target_below_the_horizon_is_refused():
    with pytest.raises(ValueError, match="below the horizon; aim at 0 to 90"):
        tonight("centre of the Milky Way", clock="14:30")
    with pytest.raises(ValueError, match="has no time zone"):
        plan_tonight(Shot(FULL, 20, 2), CAPE, datetime(2027, 6, 4, 22), aim_wish("180 30"))


def test_the_light_of_the_moment():
    found = {clock: tonight("180 30", clock=clock) for clock in ("22:30", "18:30", "12:30")}
    assert [plan.light for plan in found.values()] == ["dark", "twilight", "sun_up"]
    words = [light_words(plan) for plan in found.values()]
    assert words[0] == "Fully dark: the sun is 58° below the horizon. The moon is down."
    assert words[1].startswith("Twilight: the sun is 9° below the horizon.")
    assert words[2].startswith("The sun is up: never aim a lens or a finder at it.")


def test_the_frame_shows_land_stars_and_the_milky_way():
    at = local_time("22:30", CAPE, date(2027, 6, 4))
    shot = Shot(FULL, 20, 1.8)
    sky = frame_sky(shot, Pointing(30, 120), CAPE, at, Horizon())
    assert sky.land
    assert sky.milky_way
    assert len(sky.stars.x_mm) > 50
    assert np.abs(sky.stars.x_mm).max() <= 18
    # the level horizon crosses the frame's middle at -f tan(30 degrees) from its centre
    (land,) = sky.land
    middle = land[np.argmin(np.abs(land[:, 0]))]
    assert middle[1] == pytest.approx(20 * math.tan(math.radians(30)), abs=0.01)


def test_times_in_words():
    assert [time_text(t) for t in (4.25, 27.4, 400, math.inf)] == [
        "4.2 s",
        "27 s",
        "7 min",
        "no limit",
    ]


@pytest.mark.parametrize(("focal", "aperture"), [(0, 2.8), (20, 0), (-5, 2)])
def test_a_shot_needs_a_lens(focal, aperture):
    with pytest.raises(ValueError, match="both must be above 0"):
        Shot(FULL, focal, aperture)
