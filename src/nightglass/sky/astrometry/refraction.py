"""From catalogue directions to apparent ones, and back: the earth's motion and the air.

The air lifts stars toward the zenith: by 0.02 degrees at 45 degrees of altitude, 0.09 at 10, 0.57
at the horizon. A camera fitted without it takes the lens for 0.03 % shorter high in the sky, 0.05 %
(up to 0.12) aimed 20 degrees up, with the optical centre 0.1 % of half the diagonal too high or
low at 14 to 24 mm and 0.3 % at 35 to 50 mm. The earth's motion (aberration) draws stars together
ahead and apart behind, by up to 0.01 %.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from nightglass.almanac.horizon import refraction_degrees, seen_altitude_degrees
from nightglass.optics.arrays import Floats

SEA_LEVEL_PER_M, DENSITY_POWER = 2.25577e-5, 4.25588
"""Of the density in the standard atmosphere up to 11 km, (1 - 2.25577e-5 h)^4.256: worked out in
the test from constants of ISO 2533:1975, as the source of the library atmospheric lists them."""
LOWEST_DEGREES = -1.0
"""Below it, behind the land, the lift is that of this altitude: so places have an inverse."""
ROUNDS = 8
"""Leave 0.05" at the lowest place, where each round takes two thirds of the miss."""


@dataclass(frozen=True)
class Apparent:
    """What moves stars from their catalogue places, in ICRS axes.

    The standard air of refraction_degrees (1010 hPa, 10 °C) times strength.
    """

    zenith: tuple[float, float, float]
    """Unit vector."""
    strength: float = 1.0
    velocity: tuple[float, float, float] = (0.0, 0.0, 0.0)
    """Of the earth, over that of light."""


def lift_degrees(seen_altitude_degrees: ArrayLike) -> Floats:
    """Return how far standard air lifts what is seen at these altitudes [degrees].

    Bennett's formula (horizon.refraction_degrees) with his second term (Bennett 1982, Journal of
    Navigation 35, 255; Meeus, Astronomical Algorithms, chapter 16, p. 106, as the source of the
    library astronomia cites it): within 2" of a ray followed through standard air down to 10
    degrees and 13" at 2, where the first term alone is 3 % too strong high in the sky.
    """
    seen = np.maximum(np.asarray(seen_altitude_degrees, dtype=np.float64), LOWEST_DEGREES)
    first = 60 * refraction_degrees(seen)
    return np.asarray((first - 0.06 * np.sin(np.radians(14.7 * first + 13))) / 60)


def air_density(elevation_m: float) -> float:
    """Return the density of standard air at a height over that at the sea."""
    return float((1 - SEA_LEVEL_PER_M * elevation_m) ** DENSITY_POWER)


def seen_directions(vectors: ArrayLike, apparent: Apparent) -> Floats:
    """Return catalogue directions (..., 3), unit vectors, as they are seen.

    Stars below the horizon too: catalogue_directions undoes it for any direction.
    """
    v = np.asarray(vectors, dtype=np.float64) + np.array(apparent.velocity)
    altitude, level = _split(v, apparent)
    above = np.maximum(altitude, LOWEST_DEGREES)
    seen = altitude + apparent.strength * (seen_altitude_degrees(above) - above)
    for _ in range(ROUNDS):
        # The lift belongs to the altitude as seen. The other formula begins within 0.1'; each
        # round leaves a third of the miss below the horizon and a hundredth at 10 degrees.
        seen = altitude + apparent.strength * lift_degrees(seen)
    return _joined(seen, level, apparent)


def catalogue_directions(vectors: ArrayLike, apparent: Apparent) -> Floats:
    """Return directions as seen (..., 3), unit vectors, as the catalogue has them."""
    seen, level = _split(np.asarray(vectors, dtype=np.float64), apparent)
    altitude = seen - apparent.strength * lift_degrees(seen)
    v = _joined(altitude, level, apparent)
    velocity = np.array(apparent.velocity)
    # c u = v + velocity with |u| = 1: the length c of the moved vector, to first order.
    moved = v * (1 + v @ velocity)[..., None] - velocity
    return np.asarray(moved / np.linalg.norm(moved, axis=-1, keepdims=True))


def altitude_degrees(vectors: ArrayLike, apparent: Apparent) -> Floats:
    """Return the altitudes (...) of directions (..., 3) over the horizon, without air."""
    return _split(np.asarray(vectors, dtype=np.float64), apparent)[0]


def _split(vectors: Floats, apparent: Apparent) -> tuple[Floats, Floats]:
    """Altitude [degrees] and the level direction (unit vector) of each vector."""
    zenith = np.array(apparent.zenith)
    up = vectors @ zenith
    level = vectors - up[..., None] * zenith
    flat = np.linalg.norm(level, axis=-1)
    return np.degrees(np.arctan2(up, flat)), level / np.maximum(flat, 1e-12)[..., None]


def _joined(altitude: Floats, level: Floats, apparent: Apparent) -> Floats:
    h = np.radians(altitude)[..., None]
    return np.asarray(np.cos(h) * level + np.sin(h) * np.array(apparent.zenith))
