"""Place and time of a solved frame: heights, moon and twilight, clocks that can't be right."""

from __future__ import annotations

import math
import re
from datetime import UTC, datetime, timedelta, timezone

import numpy as np
import pytest

from nightglass.almanac.ephemeris import DateOutsideEphemerisError
from nightglass.almanac.horizontal import horizontal
from nightglass.almanac.place import place
from nightglass.frame.record import Metadata
from nightglass.light.atmosphere import nanolamberts
from nightglass.light.moonlight import moonlight_nanolamberts
from nightglass.show.sky.words.moment import BY_THE_CLOCK, moment_data, moment_words
from nightglass.sky.astrometry.camera import look_at, plain_camera
from nightglass.sky.astrometry.codes import ClockNote, SkyLight
from nightglass.sky.astrometry.matching import Fit, Match
from nightglass.sky.astrometry.moment import (
    MOONLIT_SHARE,
    REFRACTION_AT_HORIZON_DEGREES,
    sky_moment,
    taken_at,
)
from nightglass.sky.astrometry.refine import Solution
from nightglass.sky.stars.find import COLUMNS, FoundStars

NOBODY = FoundStars(**{name: np.empty(0) for name in COLUMNS})
BERLIN = place("52.5 N 13.4 E", "Europe/Berlin")
WINTER = datetime(2026, 1, 18, 21, 0, tzinfo=UTC)
"""About the new moon of 2026-01-18, 19:52 UTC (worked out with ephem)."""


def solved(ra, dec, roll=0.0):
    camera, rotation = plain_camera(6000, 4000, 4000.0), look_at(ra, dec, roll)
    nothing = np.empty(0, dtype=np.intp)
    fit = Fit(camera, rotation, np.zeros(5), 0.0, 0.0, 0.0)
    return Solution(camera, rotation, fit, Match(nothing, nothing, np.empty(0)), 0.1, -100.0, True)


def test_heights_agree_with_the_almanac_on_a_dark_night():
    seen = sky_moment(solved(83.6, 22.0), NOBODY, BERLIN, WINTER)
    vector = look_at(83.6, 22.0)[2]
    altitude, azimuth = horizontal(vector, BERLIN, WINTER)
    assert seen.aim_altitude_degrees == pytest.approx(float(altitude[0]), abs=0.01)
    assert seen.aim_azimuth_degrees == pytest.approx(float(azimuth[0]), abs=0.02)
    assert seen.conditions == ()
    assert seen.clock_off_minutes == 0
    assert seen.moon_share < 0.01


def test_twilight_and_moonlight_are_named_and_kept_from_comparison():
    # Full moon on 3 January 2026, 10:03 UTC (worked out with ephem): up all evening; sunset about
    # 16:00 local time.
    dusk = datetime(2026, 1, 3, 17, 30, tzinfo=timezone(timedelta(hours=1)))
    seen = sky_moment(solved(83.6, 45.0), NOBODY, BERLIN, dusk)
    assert seen.conditions == (SkyLight.TWILIGHT, SkyLight.MOONLIGHT)
    words = "\n".join(moment_words(seen, BERLIN))
    assert "twilight and moonlight: not to be compared with a dark night" in words
    assert "100 % lit" in words


def test_a_clock_twelve_hours_off_is_told_by_how_much():
    noon = WINTER + timedelta(hours=12)
    seen = sky_moment(solved(83.6, 22.0), NOBODY, BERLIN, noon)
    off = seen.clock_off_minutes
    assert off is not None
    # The least change that fits: these stars up and the sun 4 degrees down.
    later = noon + timedelta(minutes=off)
    fits = sky_moment(solved(83.6, 22.0), NOBODY, BERLIN, later)
    assert fits.clock_off_minutes == 0
    assert fits.stars_altitude_degrees > -REFRACTION_AT_HORIZON_DEGREES
    assert fits.sun_altitude_degrees < -4
    nearer = sky_moment(
        solved(83.6, 22.0), NOBODY, BERLIN, later - timedelta(minutes=2 * np.sign(off))
    )
    assert nearer.clock_off_minutes != 0
    (line,) = moment_words(seen, BERLIN)
    hours, minutes = divmod(abs(int(off)), 60)
    assert line.startswith("the sky disagrees with the clock (2026-01-19 10:00 at 52.5 N 13.4 E): ")
    way = "slow" if off > 0 else "fast"
    assert f"the clock is at least {hours} h {minutes:02d} min {way} or at least " in line


@pytest.mark.parametrize(("hour", "later"), [(9, 720.0), (17, -720.0)])
def test_morning_and_evening_mixed_up_is_tried_and_both_ways_are_told(hour, later):
    # 83.6, 22 is up in the evenings of January and in the mornings of September.
    day = datetime(2026, 1, 18) if later > 0 else datetime(2026, 9, 18)
    at = day.replace(hour=hour, tzinfo=BERLIN.zone)
    true = at + timedelta(minutes=later)
    roll = level_roll(83.6, 22.0, true)
    seen = sky_moment(solved(83.6, 22.0, roll), NOBODY, BERLIN, at)
    assert seen.refuted
    assert seen.half_day_minutes == later
    assert abs(seen.half_day_tilt_degrees) < 0.2
    assert seen.clock_fast_minutes < 0 < seen.clock_slow_minutes
    assert (seen.up_side, seen.conditions) == (None, ())
    for off in (seen.clock_fast_minutes, seen.clock_slow_minutes):
        moved = at + timedelta(minutes=off)
        assert not sky_moment(solved(83.6, 22.0, roll), NOBODY, BERLIN, moved).refuted
    (line,) = moment_words(seen, BERLIN)
    assert " slow or at least " in line or " fast or at least " in line
    assert (
        f"; 12 hours {'later' if later > 0 else 'earlier'} these stars are up at night and the "
        "camera stood level (a.m. and p.m. mixed up?); check clock, time zone and place; sun, moon "
        "and which side was up are not given"
    ) in line


def test_nothing_else_is_told_by_a_refuted_clock():
    seen = sky_moment(solved(83.6, 22.0, 90.0), NOBODY, BERLIN, WINTER + timedelta(hours=12))
    data = moment_data(seen)
    for name in BY_THE_CLOCK:
        assert data[name] is None
    assert data["sun_altitude_degrees"] == seen.sun_altitude_degrees
    assert data["clock_off_minutes"] == seen.clock_off_minutes
    right = moment_data(sky_moment(solved(83.6, 22.0), NOBODY, BERLIN, WINTER))
    assert all(right[name] is not None for name in BY_THE_CLOCK)


def test_a_moon_that_is_hardly_lit_makes_no_moonlight():
    # New moon of 2026-03-19, 01:23 UTC (worked out with ephem): its crescent follows the sun down.
    crescent = datetime(2026, 3, 19, 17, 50, tzinfo=UTC)
    seen = sky_moment(solved(10.0, 60.0), NOBODY, BERLIN, crescent)
    assert 0 < seen.moon_share < MOONLIT_SHARE
    assert seen.moon_altitude_degrees > 0
    assert seen.conditions == (SkyLight.TWILIGHT,)
    # Its light is small by the model too: phase angle from the lit share, 60 degrees away.
    phase = math.degrees(math.acos(2 * MOONLIT_SHARE - 1))
    added = float(moonlight_nanolamberts(60.0, 30.0, 60.0, phase, 0.2))
    dark = float(nanolamberts(21.6))
    assert 2.5 * math.log10(1 + added / dark) < 0.05


def test_southern_stars_in_a_northern_place_speak_of_the_place():
    seen = sky_moment(solved(80.0, -80.0), NOBODY, BERLIN, WINTER)
    assert seen.clock_off_minutes is None
    assert "no time of that day fits; check the place" in moment_words(seen, BERLIN)[-1]


@pytest.mark.parametrize(("latitude", "dec"), [("75 S", -60.0), ("89 N", 40.0)])
def test_polar_places_have_their_night(latitude, dec):
    winter = datetime(2026, 6, 21, tzinfo=UTC) if "S" in latitude else WINTER
    seen = sky_moment(solved(10.0, dec), NOBODY, place(f"{latitude} 20 E", "UTC"), winter)
    assert seen.clock_off_minutes == 0


def level_roll(ra, dec, at):
    """Find by brute force the roll with which a camera stands level at a place and time."""
    rolls = np.arange(0.0, 360.0, 0.05)
    ups = np.array([-look_at(ra, dec, roll)[1] for roll in rolls])
    rights = np.array([look_at(ra, dec, roll)[0] for roll in rolls])
    up, _ = horizontal(ups, BERLIN, at)
    right, _ = horizontal(rights, BERLIN, at)
    return float(rolls[np.argmin(np.where(up > 0, np.abs(right), 90.0))])


@pytest.mark.parametrize("turned", [0.0, 90.0, 180.0], ids=["landscape", "portrait", "upside down"])
def test_an_hour_off_shows_as_a_camera_that_leans(turned):
    roll = level_roll(110.0, 5.0, WINTER) + turned
    right = sky_moment(solved(110.0, 5.0, roll), NOBODY, BERLIN, WINTER)
    assert abs(right.tilt_degrees) < 0.1
    assert not any("clock" in line for line in moment_words(right, BERLIN))
    side = {0.0: "top", 90.0: "right", 180.0: "bottom"}[turned]
    assert right.up_side == side
    told = "\n".join(moment_words(right, BERLIN))
    assert ("upside down" in told) == (side == "bottom")
    assert ("toward the frame's right side: the camera was held upright" in told) == (
        side == "right"
    )
    late = sky_moment(solved(110.0, 5.0, roll), NOBODY, BERLIN, WINTER + timedelta(hours=1))
    assert late.level_off_minutes == pytest.approx(-60, abs=2)
    assert abs(late.tilt_degrees) > 8
    assert re.search(r"the clock is (59 min|1 h 0[01] min) fast", moment_words(late, BERLIN)[-1])


def test_a_missing_zone_is_taken_from_the_place_and_said():
    naive = Metadata(taken_at=datetime(2026, 7, 1, 23, 0))
    at, note = taken_at(naive, BERLIN)
    assert at is not None
    assert at.utcoffset() == timedelta(hours=2)
    assert note is ClockNote.ZONE_ASSUMED
    assert taken_at(Metadata(), BERLIN) == (None, ClockNote.NO_TIME)
    aware = Metadata(taken_at=WINTER, zone_known=True)
    assert taken_at(aware, BERLIN) == (WINTER, None)


def test_a_year_outside_the_table_says_so():
    with pytest.raises(DateOutsideEphemerisError, match="DE421"):
        sky_moment(solved(10, 50), NOBODY, BERLIN, datetime(2099, 1, 1, tzinfo=UTC))
