"""Gain and read noise of a frame, from how its sky's noise grows with its level.

Stars too faint to be found add to the variance of a sky's samples, up to a tenth of it in a rich
field, and most in green, which has most light: taken for photons they make the gain a third too
small. But their light is shared by neighbours, and noise is not: the product of neighbours tells
how much of the variance is theirs.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from nightglass.frame.record import Frame
from nightglass.optics.arrays import Flags, Floats
from nightglass.optics.extent import MAD_TO_SIGMA
from nightglass.sky.photometry.codes import GainReason
from nightglass.sky.photometry.white_noise import hide_discs, star_squares, tile_variances
from nightglass.sky.stars.background import level_at, noise_at
from nightglass.sky.stars.find import Detections

LEAST_TILES = 30
MOST_TILES = 1000
"""More tell no more: they are taken evenly."""
SAMPLE_STARS, LEAST_SAMPLE = 400, 20
SAMPLE_SNR = 50.0
STARS_PART_ERR, STARS_PART_GUESSED_ERR = 0.2, 0.5
"""Relative error of what is taken off for stars, by stars of the frame and by a Gaussian."""
COLOURS_ERR = 0.2
"""Relative error of the squares of the stars' usual colours: faint stars have others."""
UNEVEN_PIXELS = 0.005
"""Pixels differ in sensitivity by about half a percent: common practice. It looks like light."""
MOST_ERR = 0.3
"""Relative error of a gain that is still worth a number."""


@dataclass(frozen=True)
class Gain:
    """Electrons per count and read noise [counts] with their errors; None and why where unknown."""

    e_per_count: float | None = None
    e_per_count_err: float | None = None
    read_noise_counts: float | None = None
    read_noise_err: float | None = None
    reason: GainReason | None = None
    share_err: float | None = None
    """Relative error of a gain that is too uncertain for a number."""


def measure_gain(frame: Frame, found: Detections, inside: Flags) -> Gain:
    """Return gain and read noise by the samples between the stars.

    inside: which tiles (rows, columns) are open sky. One line of variance on level through all
    colours; its errors hold the scatter, what is not known of the stars' part, and the pixels'
    unlike sensitivity.
    """
    values, shared = _between_stars(frame, found, inside)
    if len(values) < LEAST_TILES:
        return Gain(reason=GainReason.LITTLE_OPEN_SKY)
    level, variance = values[..., 0], values[..., 1]
    share, share_err = _stars_own(frame, found)
    stars = share * shared[:, None] * found.colours[None, :] ** 2
    # All samples of a tile weigh as many, whatever it holds; colours with more weigh more.
    weight = np.sqrt(values[..., 2] / np.mean(values[..., 2])) / variance
    known = np.isfinite(level) & np.isfinite(variance)
    line, covariance, inverse = _line(level[known], (variance - stars)[known], weight[known])
    red_and_blue = COLOURS_ERR * stars * np.array([1.0, 0.0, 1.0])
    doubts = (share_err * stars, red_and_blue, (UNEVEN_PIXELS * level) ** 2)
    moved = inverse @ np.stack([doubt[known] for doubt in doubts], axis=1)
    slope, base = line
    errors = np.sqrt(np.diag(covariance) + np.sum(moved**2, axis=1))
    if not slope > 0:
        return Gain(reason=GainReason.NOT_LINEAR if slope < -2 * errors[0] else GainReason.EVEN_SKY)
    if errors[0] > MOST_ERR * slope:
        return Gain(reason=GainReason.NOT_TOLD_APART, share_err=float(errors[0] / slope))
    read = math.sqrt(max(base, 0.0))
    return Gain(
        e_per_count=1 / slope,
        e_per_count_err=errors[0] / slope**2,
        read_noise_counts=read,
        # Near none at all its square is what is known.
        read_noise_err=errors[1] / max(2 * read, math.sqrt(errors[1])),
    )


def _between_stars(frame: Frame, found: Detections, inside: Flags) -> tuple[Floats, Floats]:
    """Level above black, variance and number of the samples between stars, (tiles, 3, 3); and what
    green's diagonal neighbours share, (tiles,)."""
    sky, stars = found.sky, found.stars
    hidden = np.zeros(frame.samples.shape, dtype=np.bool_)
    hide_discs(hidden, stars.x_px, stars.y_px, stars.aperture_px)
    tile = sky.tile_px
    rows, columns = frame.height_px // tile, frame.width_px // tile
    i, j = np.nonzero(inside[:rows, :columns])
    some = np.unique(np.linspace(0, max(i.size - 1, 0), min(i.size, MOST_TILES)).astype(np.intp))
    i, j = i[some], j[some]
    ground = np.stack([sky.level[i, j] + sky.black, sky.noise[i, j]], axis=-1).astype(np.float64)
    at = np.column_stack([i, j]) * tile
    values, shared = tile_variances(frame.samples, frame.pattern, at, tile, ground, hidden)
    values[..., 0] -= sky.black
    present = np.unique(frame.pattern)
    # Counts coarser than the noise, as of 8 bits, leave tiles without any: they tell nothing.
    noisy = np.isfinite(values[:, present, 1]) & (values[:, present, 1] > 0)
    good = noisy.all(axis=1) & np.isfinite(shared)
    return values[good], shared[good]


def _stars_own(frame: Frame, found: Detections) -> tuple[float, float]:
    """Mean square of the stars' light in green over the mean product of diagonal neighbours, and
    its relative error."""
    stars = found.stars
    good = (stars.snr > SAMPLE_SNR) & (stars.edge == 0) & (stars.flux_counts > 0)
    if np.any(stars.clipped):
        # Just below clipping those are left whose middle lies on a red or blue sample.
        good &= stars.flux_counts < 0.5 * np.percentile(stars.flux_counts[stars.clipped], 5)
    chosen = stars.chosen(np.flatnonzero(good & ~stars.clipped)[:SAMPLE_STARS])
    by_width = math.exp(0.5 / found.filter_sigma_px**2)
    if len(chosen) < LEAST_SAMPLE:
        return by_width, STARS_PART_GUESSED_ERR
    level = level_at(found.sky, chosen.x_px, chosen.y_px)[:, 1] + found.sky.black[1]
    noise = noise_at(found.sky, chosen.x_px, chosen.y_px)[:, 1]
    square, shared = star_squares(
        frame.samples,
        frame.pattern,
        np.column_stack([chosen.x_px, chosen.y_px]),
        np.column_stack([chosen.aperture_px, chosen.flux_counts]),
        np.column_stack([level, noise]).astype(np.float64),
    )
    if not 0 < shared < square:
        return by_width, STARS_PART_GUESSED_ERR
    return float(square / shared), STARS_PART_ERR


def _line(level: Floats, variance: Floats, weight: Floats) -> tuple[Floats, Floats, Floats]:
    """Return slope and base of variance on level, their covariance by the scatter, and the matrix
    that makes slope and base of any variances; samples far off the line weigh nothing."""
    keep = np.ones(level.size, dtype=bool)
    design = np.stack([level, np.ones_like(level)], axis=1)
    for _ in range(5):
        w = np.where(keep, weight, 0.0)
        normal = np.linalg.pinv((design * w[:, None] ** 2).T @ design)
        inverse = normal @ (design * w[:, None] ** 2).T
        answer = inverse @ variance
        miss = (variance - design @ answer) * weight
        scatter = MAD_TO_SIGMA * float(np.median(np.abs(miss[keep])))
        keep = np.abs(miss) < 3 * scatter + 1e-9
    return answer, normal * scatter**2, inverse
