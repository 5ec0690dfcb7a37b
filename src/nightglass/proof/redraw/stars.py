"""The stars in and about a square of a frame, seen and unseen, with their light."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from nightglass.light.counts import magnitude_g_at_count, stars_per_square_degree
from nightglass.optics.arrays import Flags, Floats
from nightglass.proof.redraw.square import Box, in_box
from nightglass.proof.sight import Sight, colour_ratios
from nightglass.sky.astrometry.refine import catalogue_vectors, stars_in_frame
from nightglass.sky.stars.find import FoundStars

LEAST_SNR = 25.0
"""From which a star's size is compared."""
MOST_PEAK = 0.9
"""Share of the clipping level from which a star is left out."""
CATALOGUE_G, FAINTEST_G = 10.0, 11.0
"""To where the catalogue is whole, and to where stars are added at random."""
SAME_STAR_PX = 2.5
MOST_OFF_MAG = 0.75
"""Light against the catalogue's from which a found star is not that one alone."""


@dataclass(frozen=True)
class SquareStars:
    """The stars in and about a square: the catalogue's, and those found that are compared."""

    x_px: Floats
    y_px: Floats
    flux: Floats
    """Light (n, 3) [counts] were all samples red, green, blue."""
    exact: Flags
    """Which are compared; the others only lie in their surroundings."""
    compared: FoundStars


def comparable(stars: FoundStars, box: Box) -> Flags:
    """Return which found stars of a square are clear, unclipped and whole in it."""
    good = (stars.snr >= LEAST_SNR) & (stars.peak_share < MOST_PEAK) & (stars.edge == 0)
    good &= np.isfinite(stars.length_px) & np.isfinite(stars.width_px) & (stars.flux_counts > 0)
    # A star whose ring reaches out of the square would be measured otherwise there.
    return good & in_box(stars.x_px, stars.y_px, box, 2 * stars.aperture_px)


def square_stars(
    sight: Sight, box: Box, margin_px: float, rng: np.random.Generator
) -> SquareStars | None:
    """Return all stars in a square and a margin about it, None where no light is known.

    Neighbours too faint to be found widen the stars beside them: so the catalogue counts, and
    what lies beyond it at random, not what was found.
    """
    solution, stars = sight.solution, sight.found.stars
    index, x, y = stars_in_frame(solution.camera, solution.rotation, CATALOGUE_G)
    near = in_box(x, y, box, -margin_px)
    x, y, magnitude = x[near], y[near], catalogue_vectors()[1][index[near]]
    good = comparable(stars, box)
    if x.size == 0 or not np.any(good):
        return None
    tolerance = max(SAME_STAR_PX, 4 * solution.rms_px)
    tree = cKDTree(np.column_stack([stars.x_px, stars.y_px]))
    away, star = (np.asarray(a) for a in tree.query(np.column_stack([x, y])))
    hit = (away < tolerance) & good[np.minimum(star, len(stars) - 1)]
    # The catalogue stands brightest first: a found star is the brightest near it.
    _, first = np.unique(star[hit], return_index=True)
    pairs = np.flatnonzero(hit)[first]
    zero = magnitude[pairs] + 2.5 * np.log10(stars.flux_counts[star[pairs]])
    usual = float(np.median(zero)) if pairs.size else np.nan
    pairs = pairs[np.abs(zero - usual) < MOST_OFF_MAG]
    if pairs.size == 0:
        return None
    compared = stars.chosen(star[pairs])
    ratios = colour_ratios(sight, compared)
    flux = 10 ** (-0.4 * (magnitude - usual))[:, None] * np.median(ratios, axis=0)
    flux[pairs] = compared.flux_counts[:, None] * ratios
    x[pairs], y[pairs] = compared.x_px, compared.y_px
    faint_x, faint_y, faint_g = _fainter(box, margin_px, magnitude, rng)
    exact = np.zeros(x.size + faint_x.size, dtype=bool)
    exact[pairs] = True
    faint = 10 ** (-0.4 * (faint_g - usual))[:, None] * np.median(ratios, axis=0)
    return SquareStars(
        np.concatenate([x, faint_x]),
        np.concatenate([y, faint_y]),
        np.concatenate([flux, faint]),
        exact,
        compared,
    )


def _fainter(
    box: Box, margin: float, magnitude: Floats, rng: np.random.Generator
) -> tuple[Floats, Floats, Floats]:
    """Places and magnitudes of stars beyond the catalogue: at random, as many as the field's own
    number at its end lets expect. Unseen neighbours widen stars on both sides alike."""
    top, bottom, left, right = box
    steps = stars_per_square_degree(np.array([CATALOGUE_G - 1, CATALOGUE_G, FAINTEST_G]))
    last = np.count_nonzero(magnitude > CATALOGUE_G - 1)
    number = rng.poisson(last * (steps[2] - steps[1]) / (steps[1] - steps[0]))
    x = rng.uniform(left - margin, right + margin, number)
    y = rng.uniform(top - margin, bottom + margin, number)
    counts = rng.uniform(steps[1], steps[2], number)
    return x, y, magnitude_g_at_count(counts)
