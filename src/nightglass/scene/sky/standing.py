"""Where a tripod stands among the stars, and how it moves, from a few constants.

For truth only: the measuring side has both from its almanac.
"""

from __future__ import annotations

import math
from datetime import datetime

import numpy as np

from nightglass.optics.arrays import Floats
from nightglass.sky.astrometry.camera import pole_of_date

J2000_UNIX_S = 946728000.0
AT_J2000, TURNS_PER_DAY = 0.7790572732640, 1.00273781191135448
"""Earth rotation angle, IAU resolution B1.8 of 2000; UT1 taken as UTC (under 0.1 s: 1.5")."""
SUN_AT_J2000_DEGREES, SUN_DEGREES_PER_DAY = 280.466, 0.98564736
TILT_DEGREES = 23.4393
SPEED_OVER_LIGHT = 9.9365e-5
"""Mean longitude of the sun (Meeus, Astronomical Algorithms, equation 25.2, p. 163), tilt of the
ecliptic (22.2, p. 147) and the constant of aberration, 20.49552" (p. 151), as the source of the
library soniakeys/meeus cites them."""


def zenith_of(latitude_degrees: float, longitude_degrees: float, at: datetime) -> Floats:
    """Return the ICRS unit vector (3,) straight up; without nutation, good to 20".

    at: aware datetime.
    """
    days = _days(at)
    turn = 2 * math.pi * (AT_J2000 + TURNS_PER_DAY * days) + math.radians(longitude_degrees)
    phi = math.radians(latitude_degrees)
    x, y, z = math.cos(phi) * math.cos(turn), math.cos(phi) * math.sin(turn), math.sin(phi)
    # The pole of date leans toward right ascension 0 by its precession.
    sine, _, cosine = pole_of_date(2000.0 + days / 365.25)
    return np.array([x * cosine + z * sine, y, z * cosine - x * sine])


def velocity_of_earth(at: datetime) -> Floats:
    """Return the velocity (3,) over that of light, ICRS axes, on a circular orbit: good to 2 %."""
    sun = math.radians(SUN_AT_J2000_DEGREES + SUN_DEGREES_PER_DAY * _days(at))
    tilt = math.radians(TILT_DEGREES)
    along, across = math.sin(sun), -math.cos(sun)
    return SPEED_OVER_LIGHT * np.array([along, across * math.cos(tilt), across * math.sin(tilt)])


def _days(at: datetime) -> float:
    return (at.timestamp() - J2000_UNIX_S) / 86400.0
