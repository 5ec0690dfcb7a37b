"""What stands in the sky over a panorama at its first frame: land, bright stars, Milky Way."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from nightglass.plan.framesky import MILKY_WAY_EDGE_DEGREES
from nightglass.sky.catalogue import load_stars
from nightglass.sky.horizon import Horizon, seen_altitude_degrees
from nightglass.sky.horizontal import horizontal, icrs_from_galactic, unit_vectors
from nightglass.sky.place import Place

Values = NDArray[np.float64]

FAINTEST_DRAWN_G = 4.0
PATCH_DEGREES = 2.0


@dataclass(frozen=True)
class SkyThen:
    """The sky at a place and moment (aware); altitudes as seen, air included [degrees]."""

    place: Place
    at: datetime
    horizon: Horizon
    star_altitude_degrees: Values
    star_azimuth_degrees: Values
    star_magnitude: Values
    band_altitude_degrees: Values
    """(n, 4) corners of the patches that make up galactic latitude -10 to 10 degrees."""
    band_azimuth_degrees: Values


def sky_then(place: Place, at: datetime, horizon: Horizon) -> SkyThen:
    """Return land, stars to G 4 and the Milky Way's band at a moment (aware)."""
    stars = load_stars().brighter_than(FAINTEST_DRAWN_G)
    star = _seen(place, at, unit_vectors(stars.ra_degrees, stars.dec_degrees))
    # The band in narrow patches: none is wide enough to break at the picture's edge.
    west = np.arange(0.0, 360.0, PATCH_DEGREES)
    east = west + 1.025 * PATCH_DEGREES
    longitude = np.stack([west, east, east, west], axis=1)
    edge = MILKY_WAY_EDGE_DEGREES
    latitude = np.broadcast_to(np.array([-edge, -edge, edge, edge]), longitude.shape)
    band = _seen(place, at, icrs_from_galactic(longitude.ravel(), latitude.ravel()))
    return SkyThen(
        place=place,
        at=at,
        horizon=horizon,
        star_altitude_degrees=star[0],
        star_azimuth_degrees=star[1],
        star_magnitude=stars.magnitude,
        band_altitude_degrees=band[0].reshape(-1, 4),
        band_azimuth_degrees=band[1].reshape(-1, 4),
    )


def _seen(place: Place, at: datetime, icrs: Values) -> tuple[Values, Values]:
    altitude, azimuth = horizontal(icrs, place, at)
    return seen_altitude_degrees(altitude), azimuth
