"""The stars of one patch of the sky: the catalogue's, and fainter ones in the counted number."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from nightglass.light.counts import (
    CATALOGUE_END_G,
    COUNTS_END_G,
    magnitude_g_at_count,
    stars_per_square_degree,
)
from nightglass.optics.arrays import Floats
from nightglass.sky.astrometry.catalogue import load_stars

SEED = 34
LARGEST_DEGREES = 30.0
"""A flat patch: at its rim the tangent plane stretches by 7 %."""


@dataclass(frozen=True)
class PatchStars:
    """Stars of a square patch about a direction: offsets on the tangent plane, and G magnitude."""

    side_degrees: float
    x_degrees: Floats
    """To the right of the patch's middle, as a frame of the sky shows it: east is left."""
    y_degrees: Floats
    """Down from its middle: north is up."""
    magnitude_g: Floats
    from_catalogue: int
    """The first so many are real stars; the others stand at random, in the mean sky's number."""


def patch_stars(
    ra_degrees: float,
    dec_degrees: float,
    side_degrees: float,
    faintest_g: float,
    margin_degrees: float = 0.0,
    seed: int = SEED,
) -> PatchStars:
    """Return the stars of a patch down to a magnitude, with those of a margin around it.

    Raises ValueError for a patch of 0 or of more than 30 degrees.
    """
    if not 0 < side_degrees <= LARGEST_DEGREES:
        raise ValueError(
            f"side_degrees is {side_degrees:g}; a patch is above 0 and at most "
            f"{LARGEST_DEGREES:g} degrees wide"
        )
    reach = side_degrees / 2 + margin_degrees
    stars = load_stars().brighter_than(min(faintest_g, CATALOGUE_END_G))
    x, y = _on_tangent_plane(stars.ra_degrees, stars.dec_degrees, ra_degrees, dec_degrees)
    inside = (np.abs(x) <= reach) & (np.abs(y) <= reach)
    real = (x[inside], y[inside], stars.magnitude[inside])
    faint = _faint(reach, min(faintest_g, COUNTS_END_G), np.random.default_rng(seed))
    x, y, magnitude = (np.concatenate([a, b]) for a, b in zip(real, faint, strict=True))
    return PatchStars(side_degrees, x, y, magnitude, int(np.count_nonzero(inside)))


def _on_tangent_plane(
    ra_degrees: Floats, dec_degrees: Floats, ra0_degrees: float, dec0_degrees: float
) -> tuple[Floats, Floats]:
    """Right and down on the plane that touches the sky at (ra0, dec0) [degrees]; nan behind it.

    The gnomonic projection of astrometry (Calabretta & Greisen 2002, A&A 395, 1077, section 5.1.3).
    """
    ra, dec = np.radians(ra_degrees - ra0_degrees), np.radians(dec_degrees)
    dec0 = math.radians(dec0_degrees)
    ahead = np.sin(dec) * math.sin(dec0) + np.cos(dec) * math.cos(dec0) * np.cos(ra)
    with np.errstate(divide="ignore", invalid="ignore"):
        east = np.cos(dec) * np.sin(ra) / ahead
        north = (np.sin(dec) * math.cos(dec0) - np.cos(dec) * math.sin(dec0) * np.cos(ra)) / ahead
    behind = ahead <= 0
    flat = [np.where(behind, np.nan, np.degrees(v)) for v in (-east, -north)]
    return flat[0], flat[1]


def _faint(
    reach_degrees: float, faintest_g: float, rng: np.random.Generator
) -> tuple[Floats, Floats, Floats]:
    """Stars beyond the catalogue: even over the square, magnitudes as the counts have them."""
    if faintest_g <= CATALOGUE_END_G:
        return np.empty(0), np.empty(0), np.empty(0)
    ends = stars_per_square_degree(np.array([CATALOGUE_END_G, faintest_g]))
    count = int(rng.poisson((ends[1] - ends[0]) * (2 * reach_degrees) ** 2))
    x, y = rng.uniform(-reach_degrees, reach_degrees, (2, count))
    magnitude = magnitude_g_at_count(rng.uniform(ends[0], ends[1], count))
    return x, y, np.asarray(magnitude, dtype=np.float64)
