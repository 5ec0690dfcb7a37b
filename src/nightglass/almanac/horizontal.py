"""From the sky's coordinates to altitude and azimuth at a place, and back.

Azimuth counts from north through east. Altitudes are without air unless a name says `seen`.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import ArrayLike

from nightglass.almanac.ephemeris import Ephemeris, skyfield_time, unix_seconds
from nightglass.almanac.place import Place
from nightglass.optics.arrays import Floats

EARTH_RADIUS_KM = 6378.137
EARTH_FLATTENING = 1 / 298.257223563
"""WGS 84."""

# Rows: galactic axes in ICRS. Hipparcos catalogue, ESA SP-1200 vol. 1, 1.5.11; recomputed with
# erfa.icrs2g in the tests.
GALACTIC_FROM_ICRS = np.array(
    [
        [-0.0548755604162154, -0.8734370902348850, -0.4838350155487132],
        [0.4941094278755837, -0.4448296299600112, 0.7469822444972189],
        [-0.8676661490190047, -0.1980763734312015, 0.4559837761750669],
    ]
)


@dataclass(frozen=True)
class Look:
    """Where a body stands for an observer; arrays of one shape."""

    altitude_degrees: Floats
    azimuth_degrees: Floats
    distance_km: Floats


def look(sky: Ephemeris, name: str, place: Place, unix_s: ArrayLike) -> Look:
    """Return altitude, azimuth and distance of "sun", "moon" or a target at times (n,).

    Sun and moon are seen from the place itself (parallax), without air.
    """
    times = np.atleast_1d(np.asarray(unix_s, dtype=np.float64))
    vectors = sky.vectors(name, times)
    sidereal = sky.sidereal_rad(times) + np.radians(place.longitude_degrees)
    if name in ("sun", "moon"):
        vectors = vectors - _observer_km(place, sidereal)
    return _look(vectors, sidereal, place)


def topocentric_vectors(sky: Ephemeris, name: str, place: Place, unix_s: Floats) -> Floats:
    """Return (n, 3) from the place to a body, true equator of date [km; targets: unit]."""
    vectors = sky.vectors(name, unix_s)
    if name not in ("sun", "moon"):
        return vectors
    sidereal = sky.sidereal_rad(unix_s) + np.radians(place.longitude_degrees)
    return vectors - _observer_km(place, sidereal)


def separation_degrees(one: ArrayLike, other: ArrayLike) -> Floats:
    """Return the angle between vectors (n, 3); the same whichever comes first."""
    a, b = np.asarray(one, dtype=np.float64), np.asarray(other, dtype=np.float64)
    cross = np.linalg.norm(np.cross(a, b), axis=-1)
    return np.degrees(np.arctan2(cross, np.sum(a * b, axis=-1)))


def unit_vectors(ra_degrees: ArrayLike, dec_degrees: ArrayLike) -> Floats:
    """Return (n, 3) unit vectors of right ascensions and declinations (or any such pair)."""
    ra = np.radians(np.atleast_1d(np.asarray(ra_degrees, dtype=np.float64)))
    dec = np.radians(np.atleast_1d(np.asarray(dec_degrees, dtype=np.float64)))
    return np.stack([np.cos(dec) * np.cos(ra), np.cos(dec) * np.sin(ra), np.sin(dec)], axis=-1)


def icrs_from_galactic(l_degrees: ArrayLike, b_degrees: ArrayLike) -> Floats:
    """Return (n, 3) ICRS unit vectors of galactic longitudes and latitudes."""
    return unit_vectors(l_degrees, b_degrees) @ GALACTIC_FROM_ICRS


def horizontal(icrs: ArrayLike, place: Place, at: datetime) -> tuple[Floats, Floats]:
    """Return (altitude, azimuth) in degrees of ICRS unit vectors (n, 3) at one moment.

    Precession, nutation and the yearly aberration are in; no air. Raises ValueError for a naive
    datetime.
    """
    matrix, sidereal = _of_moment(place, at)
    vectors = np.atleast_2d(np.asarray(icrs, dtype=np.float64))
    moved = (vectors + earth_velocity(at)) @ matrix.T
    seen = _look(moved, np.full(len(moved), sidereal), place)
    return seen.altitude_degrees, seen.azimuth_degrees


def zenith_vector(place: Place, at: datetime) -> Floats:
    """Return the ICRS unit vector (3,) of the direction plumb up from a place at a moment.

    Raises ValueError for a naive datetime.
    """
    matrix, sidereal = _of_moment(place, at)
    phi = np.radians(place.latitude_degrees)
    of_date = [np.cos(phi) * np.cos(sidereal), np.cos(phi) * np.sin(sidereal), np.sin(phi)]
    return np.asarray(matrix.T @ np.array(of_date))


def earth_velocity(at: datetime) -> Floats:
    """Return the velocity (3,) of the earth over that of light, ICRS axes, good to 1 % (0.2")."""
    # Mean longitude of the sun, Meeus 25.2; the earth moves 90 degrees behind it.
    days = (unix_seconds(at) - 946728000.0) / 86400.0
    longitude = np.radians(280.466 + 0.98564736 * days)
    tilt = np.radians(23.4393)
    along = np.sin(longitude), -np.cos(longitude)
    beta = 9.9365e-5
    return beta * np.array([along[0], along[1] * np.cos(tilt), along[1] * np.sin(tilt)])


def equatorial(
    altitude_degrees: ArrayLike, azimuth_degrees: ArrayLike, latitude_degrees: float
) -> tuple[Floats, Floats]:
    """Return (hour angle, declination) of date in degrees of directions at a latitude."""
    h, a = (
        np.radians(np.asarray(altitude_degrees, float)),
        np.radians(np.asarray(azimuth_degrees, float)),
    )
    phi = np.radians(latitude_degrees)
    north, east, up = np.cos(h) * np.cos(a), np.cos(h) * np.sin(a), np.sin(h)
    pole = north * np.cos(phi) + up * np.sin(phi)
    meridian = up * np.cos(phi) - north * np.sin(phi)
    declination = np.degrees(np.arctan2(pole, np.hypot(meridian, east)))
    return np.degrees(np.arctan2(-east, meridian)), declination


def _look(vectors: Floats, sidereal: Floats, place: Place) -> Look:
    cosine, sine = np.cos(sidereal), np.sin(sidereal)
    meridian = vectors[:, 0] * cosine + vectors[:, 1] * sine
    east = vectors[:, 1] * cosine - vectors[:, 0] * sine
    phi = np.radians(place.latitude_degrees)
    up = meridian * np.cos(phi) + vectors[:, 2] * np.sin(phi)
    north = vectors[:, 2] * np.cos(phi) - meridian * np.sin(phi)
    return Look(
        altitude_degrees=np.degrees(np.arctan2(up, np.hypot(north, east))),
        azimuth_degrees=np.degrees(np.arctan2(east, north)) % 360.0,
        distance_km=np.sqrt(np.sum(vectors * vectors, axis=1)),
    )


def _observer_km(place: Place, sidereal_here: Floats) -> Floats:
    phi = np.radians(place.latitude_degrees)
    squeeze = (1 - EARTH_FLATTENING) ** 2
    c = EARTH_RADIUS_KM / np.sqrt(np.cos(phi) ** 2 + squeeze * np.sin(phi) ** 2)
    height = place.elevation_m / 1000.0
    across, up = (c + height) * np.cos(phi), (squeeze * c + height) * np.sin(phi)
    return np.stack(
        [
            across * np.cos(sidereal_here),
            across * np.sin(sidereal_here),
            np.full_like(sidereal_here, up),
        ],
        axis=1,
    )


def _of_moment(place: Place, at: datetime) -> tuple[Floats, float]:
    t = skyfield_time(np.float64(unix_seconds(at)))
    sidereal = float(t.gast) * np.pi / 12.0 + np.radians(place.longitude_degrees)
    return np.asarray(t.M, dtype=np.float64), float(sidereal)
