"""Place and time of a solved frame: moon, twilight, and whether the clock can be right."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from nightglass.almanac.ephemeris import Ephemeris, Target, ephemeris, unix_seconds
from nightglass.almanac.horizontal import look, separation_degrees, topocentric_vectors
from nightglass.almanac.phases import illuminated_share
from nightglass.almanac.place import Place
from nightglass.almanac.unusual import DARK_DEGREES
from nightglass.frame.record import Metadata
from nightglass.optics.arrays import Flags, Floats, Ints64
from nightglass.sky.astrometry.camera import (
    catalogue_rotation,
    sky_degrees,
    unit_vectors,
    vectors_at,
)
from nightglass.sky.astrometry.codes import ClockNote, SkyLight
from nightglass.sky.astrometry.refine import Solution
from nightglass.sky.stars.find import FoundStars

SUN_AT_MOST_DEGREES = -4.0
"""With a higher sun no frame shows the dozens of stars that it takes to solve it: common practice,
no published source."""
REFRACTION_AT_HORIZON_DEGREES = 34 / 60
"""The air lifts what stands at the horizon by this much: the 34' of the U.S. Naval Observatory's
definitions of rise and set, as the source of skyfield.almanac quotes them. All heights here are
without air."""
STEEP_DEGREES = 75.0
"""Aims higher than this have no side of the frame that is up."""
SIDES = ("top", "right", "bottom", "left")
SCAN_MINUTES = 720
SHIFTS = np.arange(-SCAN_MINUTES, SCAN_MINUTES + 1)
MOONLIT_SHARE = 0.01
"""Lit share of the moon's disc under which it adds less than 0.05 magnitudes to a dark sky: its
light there is under a thousandth of the full moon's (light.moonlight)."""


@dataclass(frozen=True)
class SkyMoment:
    """The sky at the time that the clock says [degrees, without air]."""

    at: datetime
    aim_altitude_degrees: float
    aim_azimuth_degrees: float
    """Of the middle of the frame, as right ascension and declination are; the optical centre may
    stand degrees beside it."""
    stars_altitude_degrees: float
    """Of the middle of the recognised stars."""
    sun_altitude_degrees: float
    moon_altitude_degrees: float
    moon_share: float
    """Lit share of the moon's disc."""
    moon_separation_degrees: float
    """Moon to aim."""
    conditions: tuple[SkyLight, ...]
    """Empty for a dark night, and by a clock that can't be right."""
    clock_off_minutes: float | None
    """Least change of the clock with which these stars can be up at night there, later positive;
    0 where the clock can be right, None where no time of that day fits."""
    tilt_degrees: float
    """How far the frame leans from level by the clock, -45 to 45."""
    level_off_minutes: float | None
    """Change of the clock with which the camera stood level; None where none does."""
    up_side: str | None = None
    """Side of the raw frame toward which the zenith lies; None for aims near the zenith, and by a
    clock that can't be right."""
    clock_slow_minutes: float | None = None
    clock_fast_minutes: float | None = None
    """Least changes of the clock forward and back with which these stars can be up at night; None
    where none of 12 hours does, and where the clock can be right."""
    half_day_minutes: float | None = None
    """720 or -720 where the clock can't be right but would be with a.m. and p.m. exchanged."""
    half_day_tilt_degrees: float | None = None
    """How far the frame leaned from level then."""

    @property
    def refuted(self) -> bool:
        """Whether the clock can't be right: nothing else may be told by it."""
        return self.clock_off_minutes != 0


def taken_at(metadata: Metadata, place: Place) -> tuple[datetime | None, ClockNote | None]:
    """Return the moment of a frame and a note; without a zone in the file the place's is taken."""
    at = metadata.taken_at
    if at is None:
        return None, ClockNote.NO_TIME
    if at.tzinfo is None:
        return at.replace(tzinfo=place.zone), ClockNote.ZONE_ASSUMED
    return at, None


def sky_moment(solution: Solution, stars: FoundStars, place: Place, at: datetime) -> SkyMoment:
    """Return moon, twilight and what the stars say of the clock, for a frame taken at a place.

    Raises ValueError for a time without zone, DateOutsideEphemerisError (a ValueError) for dates
    outside the table of sun and moon.
    """
    day = _day(solution, stars, place, at)
    fits = (day.stars > -REFRACTION_AT_HORIZON_DEGREES) & (day.sun < SUN_AT_MOST_DEGREES)
    # From the nearest of the four sides of the frame.
    tilt = (day.turn + 45) % 90 - 45
    now = SCAN_MINUTES
    possible = bool(fits[now])
    sided = possible and abs(day.aim[0]) <= STEEP_DEGREES
    altitude, share, apart = day.moon
    return SkyMoment(
        at=at,
        aim_altitude_degrees=day.aim[0],
        aim_azimuth_degrees=day.aim[1],
        stars_altitude_degrees=float(day.stars[now]),
        sun_altitude_degrees=float(day.sun[now]),
        moon_altitude_degrees=altitude,
        moon_share=share,
        moon_separation_degrees=apart,
        conditions=_conditions(float(day.sun[now]), altitude, share) if possible else (),
        clock_off_minutes=_nearest(SHIFTS, fits),
        tilt_degrees=float(tilt[now]),
        level_off_minutes=_level(tilt),
        up_side=SIDES[round(float(day.turn[now]) / 90) % 4] if sided else None,
        **({} if possible else _ways(at, fits, tilt)),
    )


@dataclass(frozen=True)
class _Day:
    """Half a day before and after a frame, minute by minute (SHIFTS) [degrees]."""

    stars: Floats
    """Altitude of the middle of the recognised stars."""
    sun: Floats
    turn: Floats
    """Direction of the zenith in the frame, from its top side toward its right one."""
    aim: tuple[float, float]
    """Altitude and azimuth at the frame's own time."""
    moon: tuple[float, float, float]
    """Altitude, lit share and separation from the aim at that time."""


def _day(solution: Solution, stars: FoundStars, place: Place, at: datetime) -> _Day:
    room = timedelta(minutes=SCAN_MINUTES + 60)
    chosen = solution.match.found
    vectors = vectors_at(solution.camera, solution.rotation, stars.x_px[chosen], stars.y_px[chosen])
    right, down, _ = catalogue_rotation(solution.camera, solution.rotation)
    aimed = unit_vectors(solution.ra_degrees, solution.dec_degrees)
    middle = vectors.mean(axis=0) if len(chosen) else aimed
    targets = {"aim": aimed, "stars": middle, "right": right, "up": -down}
    sky = ephemeris(at - room, at + room, tuple(_target(n, v) for n, v in targets.items()))
    times = np.asarray(unix_seconds(at) + 60.0 * SHIFTS, dtype=np.float64)
    now = times[[SCAN_MINUTES]]
    aim = look(sky, "aim", place, now)
    apart = separation_degrees(
        topocentric_vectors(sky, "moon", place, now), sky.vectors("aim", now)
    )
    return _Day(
        look(sky, "stars", place, times).altitude_degrees,
        look(sky, "sun", place, times).altitude_degrees,
        _turn(sky, place, times),
        (float(aim.altitude_degrees[0]), float(aim.azimuth_degrees[0])),
        (
            float(look(sky, "moon", place, now).altitude_degrees[0]),
            float(illuminated_share(sky, now)[0]),
            float(apart[0]),
        ),
    )


def _ways(at: datetime, fits: Flags, tilt: Floats) -> dict[str, float | None]:
    """How a clock that can't be right may be wrong; a.m. taken for p.m. keeps the date."""
    half_day = SCAN_MINUTES if at.hour < 12 else -SCAN_MINUTES
    there = SCAN_MINUTES + half_day
    return {
        "clock_slow_minutes": _nearest(SHIFTS, fits & (SHIFTS > 0)),
        "clock_fast_minutes": _nearest(SHIFTS, fits & (SHIFTS < 0)),
        "half_day_minutes": float(half_day) if fits[there] else None,
        "half_day_tilt_degrees": float(tilt[there]) if fits[there] else None,
    }


def _target(name: str, vector: Floats) -> Target:
    ra, dec = sky_degrees(vector)
    return Target(name, float(ra) % 360.0, float(dec))


def _turn(sky: Ephemeris, place: Place, times: Floats) -> Floats:
    """Direction of the zenith in the frame: degrees from its top side toward its right one."""
    right, up = (
        np.sin(np.radians(look(sky, name, place, times).altitude_degrees))
        for name in ("right", "up")
    )
    return np.asarray(np.degrees(np.arctan2(right, up)))


def _nearest(shifts: Ints64, fits: Flags) -> float | None:
    good = shifts[fits]
    return float(good[np.argmin(np.abs(good))]) if good.size else None


def _level(tilt: Floats) -> float | None:
    """The nearest change of the clock at which the tilt passes through 0 without a jump."""
    passes = (np.sign(tilt[:-1]) != np.sign(tilt[1:])) & (np.abs(np.diff(tilt)) < 20)
    return _nearest(SHIFTS[:-1], passes)


def _conditions(sun_degrees: float, moon_degrees: float, lit: float) -> tuple[SkyLight, ...]:
    light = []
    if sun_degrees > DARK_DEGREES:
        light.append(SkyLight.DAYLIGHT if sun_degrees > -50 / 60 else SkyLight.TWILIGHT)
    if moon_degrees > 0 and lit >= MOONLIT_SHARE:
        light.append(SkyLight.MOONLIGHT)
    return tuple(light)
