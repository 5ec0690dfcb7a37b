"""What stands in the sky over a panorama at its first frame: land, bright stars, Milky Way."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import numpy as np

from nightglass.almanac.horizon import Horizon, refraction_degrees, seen_altitude_degrees
from nightglass.almanac.horizontal import horizontal, icrs_from_galactic, unit_vectors
from nightglass.almanac.place import Place
from nightglass.optics.arrays import Floats
from nightglass.plan.camera import ground_vectors
from nightglass.plan.framesky import MILKY_WAY_EDGE_DEGREES
from nightglass.sky.astrometry.catalogue import load_stars

FAINTEST_DRAWN_G = 4.0


@dataclass(frozen=True)
class SkyThen:
    """The sky at a place and moment (aware); altitudes as seen, air included [degrees]."""

    place: Place
    at: datetime
    horizon: Horizon
    star_altitude_degrees: Floats
    star_azimuth_degrees: Floats
    star_magnitude: Floats
    galactic_pole: Floats
    """(3,) direction of the galaxy's north pole: north, east, up; without air."""


def sky_then(place: Place, at: datetime, horizon: Horizon) -> SkyThen:
    """Return land, stars to G 4 and the Milky Way's place at a moment (aware)."""
    stars = load_stars().brighter_than(FAINTEST_DRAWN_G)
    star = _seen(place, at, unit_vectors(stars.ra_degrees, stars.dec_degrees))
    # Latitude about the galaxy's pole needs no more than where that pole stands.
    pole = horizontal(icrs_from_galactic(0.0, 90.0), place, at)
    return SkyThen(
        place=place,
        at=at,
        horizon=horizon,
        star_altitude_degrees=star[0],
        star_azimuth_degrees=star[1],
        star_magnitude=stars.magnitude,
        galactic_pole=ground_vectors(*pole).reshape(3),
    )


def inside_band_degrees(then: SkyThen, altitude_degrees: Floats, azimuth_degrees: Floats) -> Floats:
    """Return how far inside galactic latitude -10 to 10 degrees places as seen lie [degrees].

    Negative outside, as along the band's edge; shape of the places.
    """
    true = altitude_degrees - refraction_degrees(altitude_degrees)
    sine = ground_vectors(true, azimuth_degrees) @ then.galactic_pole
    return MILKY_WAY_EDGE_DEGREES - np.abs(np.degrees(np.arcsin(np.clip(sine, -1.0, 1.0))))


def _seen(place: Place, at: datetime, icrs: Floats) -> tuple[Floats, Floats]:
    altitude, azimuth = horizontal(icrs, place, at)
    return seen_altitude_degrees(altitude), azimuth
