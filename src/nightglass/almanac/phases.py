"""Phases of the moon: lit share, names, and the moments of new, quarters and full."""

from __future__ import annotations

from datetime import datetime, timedelta

import numpy as np

from nightglass.almanac.codes import MoonPhase
from nightglass.almanac.crossings import crossings
from nightglass.almanac.ephemeris import Ephemeris, ephemeris, moment, unix_seconds
from nightglass.almanac.horizontal import separation_degrees
from nightglass.optics.arrays import Floats

PRINCIPAL = (
    MoonPhase.NEW_MOON,
    MoonPhase.FIRST_QUARTER,
    MoonPhase.FULL_MOON,
    MoonPhase.LAST_QUARTER,
)
BETWEEN = (
    MoonPhase.WAXING_CRESCENT,
    MoonPhase.WAXING_GIBBOUS,
    MoonPhase.WANING_GIBBOUS,
    MoonPhase.WANING_CRESCENT,
)


def phase_angle_degrees(sky: Ephemeris, unix_s: Floats) -> Floats:
    """Return the angle sun - moon - earth (n,): 0 at full moon, 180 at new moon."""
    moon, sun = sky.vectors("moon", unix_s), sky.vectors("sun", unix_s)
    return separation_degrees(-moon, sun - moon)


def illuminated_share(sky: Ephemeris, unix_s: Floats) -> Floats:
    """Return the lit share of the moon's disc (n,), 0 to 1, seen from the earth's centre.

    Meeus, Astronomical Algorithms, 2nd ed., 48.1.
    """
    return (1 + np.cos(np.radians(phase_angle_degrees(sky, unix_s)))) / 2


def moon_age_degrees(sky: Ephemeris, unix_s: Floats) -> Floats:
    """Return the moon's ecliptic longitude minus the sun's (n,), 0 to 360."""
    return (_longitude(sky, "moon", unix_s) - _longitude(sky, "sun", unix_s)) % 360.0


def phase_names(sky: Ephemeris, unix_s: Floats) -> list[MoonPhase]:
    """Return the names of the moon's phases at times (n,).

    A principal phase names the half day before and after its moment.
    """
    before, age, after = (moon_age_degrees(sky, unix_s + d) for d in (-1800.0, 0.0, 1800.0))
    half_day = 12.0 * ((after - before) % 360.0)
    nearest = np.round(age / 90)
    at_phase = np.abs(age - 90 * nearest) < half_day
    return [
        PRINCIPAL[int(n) % 4] if principal else BETWEEN[int(a // 90)]
        for n, principal, a in zip(nearest, at_phase, age, strict=True)
    ]


def phases(start: datetime, end: datetime) -> tuple[tuple[datetime, MoonPhase], ...]:
    """Return the moments (UTC) of the principal phases from start to end, in order."""
    sky = ephemeris(start, end)
    grid = np.arange(unix_seconds(start), unix_seconds(end), 6 * 3600.0)
    grid = np.append(grid, unix_seconds(end))
    found: list[tuple[datetime, MoonPhase]] = []
    for k, name in enumerate(PRINCIPAL):

        def past(t: Floats, target: float = 90.0 * k) -> Floats:
            # The jump from +180 to -180 is a falling crossing and is left out below.
            return (moon_age_degrees(sky, t) - target + 180.0) % 360.0 - 180.0

        # Even spacing matters only for turning points, and this height has none.
        crossed = crossings(past, grid)
        rising = crossed.times_s[crossed.rising]
        found += [(moment(float(t)), name) for t in rising]
    return tuple(sorted(found))


def next_new_moon(after: datetime) -> datetime:
    """Return the first new moon after a moment, UTC."""
    found = phases(after, after + timedelta(days=31))
    return next(t for t, name in found if name is MoonPhase.NEW_MOON)


def _longitude(sky: Ephemeris, body: str, unix_s: Floats) -> Floats:
    """Ecliptic longitude of date; an error of the tilt cancels in differences."""
    v = sky.vectors(body, unix_s)
    centuries = (unix_s - 946728000.0) / (86400.0 * 36525)
    tilt = np.radians(23.4392911 - 0.0130042 * centuries)  # Meeus 22.2
    y = v[:, 1] * np.cos(tilt) + v[:, 2] * np.sin(tilt)
    return np.degrees(np.arctan2(y, v[:, 0]))
