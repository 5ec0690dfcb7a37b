"""Heights whose passing through zero is a rise or a set: sun, moon, target over the land.

Sunset and moonrise by the US Naval Observatory's definitions (nightglass.almanac.night).
"""

from __future__ import annotations

import numpy as np

from nightglass.almanac.crossings import Height
from nightglass.almanac.ephemeris import Ephemeris
from nightglass.almanac.horizon import Horizon, refraction_degrees
from nightglass.almanac.horizontal import look
from nightglass.almanac.place import Place
from nightglass.optics.arrays import Floats

REFRACTION_AT_HORIZON_DEGREES = 34 / 60
MOON_RADIUS_KM = 1737.4


def sun_altitude_degrees(sky: Ephemeris, place: Place, unix_s: Floats) -> Floats:
    """Return the altitude of the sun's centre without air (n,)."""
    return look(sky, "sun", place, unix_s).altitude_degrees


def moon_edge_degrees(sky: Ephemeris, place: Place, unix_s: Floats) -> Floats:
    """Return the altitude of the moon's upper edge above its rising position (n,)."""
    seen = look(sky, "moon", place, unix_s)
    radius = np.degrees(np.arcsin(MOON_RADIUS_KM / seen.distance_km))
    return seen.altitude_degrees + radius + REFRACTION_AT_HORIZON_DEGREES


def above_level(height: Height, level: float, unix_s: Floats) -> Floats:
    """Return a height over a level (n,) [degrees]."""
    return height(unix_s) - level


def target_above_degrees(
    sky: Ephemeris, place: Place, name: str, horizon: Horizon, unix_s: Floats
) -> Floats:
    """Return the altitude of a target above its rising over the land (n,), air included."""
    seen = look(sky, name, place, unix_s)
    land = horizon.height_at(seen.azimuth_degrees)
    lift = np.where(land == 0, REFRACTION_AT_HORIZON_DEGREES, refraction_degrees(land))
    return seen.altitude_degrees - land + lift
