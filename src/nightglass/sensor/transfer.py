"""Photon transfer: electrons per count, from how noise grows with light.

EMVA 1288 Release 3.1, clause 6.6, fits a straight line of variance on level up to 70 % of
saturation: variance = dark variance + K x level, K counts per electron. A camera whose response
bends by 1 % at full scale reads 1.5 to 2 % wrong that way, because the slope of the line is
K (1 - 3 b x) for a bend b and a share x of full scale. So the fit here has a square as well, and
K is the slope at low light, where stars are. Where there are too few levels, the line stays
straight and the doubt enters the error.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.stats import chi2

from nightglass.optics.arrays import Flags, Floats
from nightglass.sensor.pairs import TilePairs
from nightglass.sensor.records import UNKNOWN, Known

HIGHEST_SHARE = 0.7
"""Of saturation: EMVA 1288 Release 3.1, clause 6.6."""
LEAST_LEVELS, LEAST_SPAN = 4, 4.0
"""Levels, and the brightest over the faintest, from which a bend can be told."""
BEND_DOUBT = 0.01
"""Bend that a straight line leaves open: common practice for sensors of cameras."""
SAME_LEVEL = 0.08
CUT_SIGMA = 5.0
ROUNDS = 6
UNLIKELY = 0.01
"""Scatter that comes by chance in 1 of 100 is taken at its word; more widens the errors."""


@dataclass(frozen=True)
class Points:
    """Variance against level of one colour at one ISO, one entry for each tile of each pair."""

    level: Floats
    variance: Floats
    """What rounding adds is taken off."""
    free: Floats
    """Degrees of freedom of each variance."""
    pair: Floats
    """Number of the pair."""

    @property
    def levels(self) -> int:
        """Levels that are told apart, over the pairs' medians."""
        return len(_distinct(self))


@dataclass(frozen=True)
class Transfer:
    """The curve of variance on level: v = dark + slope s + square s^2 [counts]."""

    slope: float
    slope_err: float
    dark_variance: Known
    """The variance at level 0, from the lit frames and the dark value that was given."""
    square: Known
    straight: bool
    levels: int

    @property
    def gain_e_per_count(self) -> Known:
        """Electrons per count at low light; nothing where noise does not grow with light."""
        if not self.slope > 3 * self.slope_err:
            return UNKNOWN
        return Known(1 / self.slope, self.slope_err / self.slope**2)

    def bend_percent(self, full_counts: float) -> Known:
        """Return how far the count at full scale lies under a straight line [%]."""
        if self.square.value is None or self.square.err is None:
            return UNKNOWN
        scale = -100 * full_counts / (3 * self.slope)
        return Known(self.square.value * scale, abs(self.square.err * scale))


def points_of(
    pairs: Sequence[TilePairs], colour: int, full_counts: float, rounding: Sequence[float]
) -> Points:
    """Return the points of a colour up to 70 % of full scale.

    rounding: variance that rounding adds, for each pair [counts^2].
    """
    columns: list[Floats] = []
    for number, (pair, added) in enumerate(zip(pairs, rounding, strict=True)):
        level = pair.level[:, colour]
        kept = np.isfinite(level) & (level < HIGHEST_SHARE * full_counts) & (level > 0)
        columns.append(
            np.stack(
                [
                    level[kept],
                    pair.variance[kept, colour] - added,
                    pair.samples[kept, colour],
                    np.full(int(kept.sum()), float(number)),
                ]
            )
        )
    values = np.concatenate(columns, axis=1) if columns else np.empty((4, 0))
    return Points(values[0], values[1], values[2], values[3])


def photon_transfer(points: Points, dark: Known, full_counts: float) -> Transfer | None:
    """Return the curve through the points, and through the dark variance where one is given.

    None with fewer than two tiles, or one tile at one level without a dark variance. Errors are
    those of the counts of samples, widened where tiles or pairs scatter by more than chance.
    """
    known = dark.value is not None and dark.err is not None
    levels = _distinct(points)
    if points.level.size < 2 or (len(levels) < 2 and not known):
        return None
    straight = len(levels) < LEAST_LEVELS or max(levels) < LEAST_SPAN * min(levels)
    x = points.level / full_counts
    design = np.stack([np.ones_like(x), x] + ([] if straight else [x**2]), axis=1)
    answer, covariance, kept = _fit(design, points, dark)
    if kept.sum() < 2 or (not known and not np.all(np.isfinite(covariance))):
        return None
    widened = covariance * _widening(points, design @ answer, kept, design.shape[1])
    errors = np.sqrt(np.diag(widened))
    slope, slope_err = float(answer[1]) / full_counts, float(errors[1]) / full_counts
    if straight:
        share = float(np.average(x[kept], weights=points.free[kept]))
        slope_err = math.hypot(slope_err, 3 * BEND_DOUBT * share * slope)
    square = UNKNOWN
    if not straight:
        square = Known(float(answer[2] / full_counts**2), float(errors[2] / full_counts**2))
    dark_variance = Known(float(answer[0]), float(errors[0]))
    return Transfer(float(slope), float(slope_err), dark_variance, square, straight, len(levels))


def _fit(design: Floats, points: Points, dark: Known) -> tuple[Floats, Floats, Flags]:
    """Least squares with the weights of the fitted variances: measured ones favour low draws."""
    rows, values = design, points.variance
    extra = np.zeros((1, design.shape[1]))
    extra[0, 0] = 1.0
    known = dark.value is not None and dark.err is not None
    model = np.maximum(points.variance, np.median(points.variance) * 1e-3)
    kept = np.ones(points.level.size, dtype=np.bool_)
    for _ in range(ROUNDS):
        sigma = model * np.sqrt(2 / points.free)
        weight = np.where(kept, 1 / sigma, 0.0)
        a, y = rows * weight[:, None], values * weight
        if known and dark.value is not None and dark.err is not None:
            a = np.vstack([a, extra / dark.err])
            y = np.append(y, dark.value / dark.err)
        inverse = np.linalg.pinv(a.T @ a)
        answer = inverse @ (a.T @ y)
        fitted = rows @ answer
        model = np.maximum(fitted, np.median(points.variance) * 1e-3)
        kept = np.abs(values - fitted) < CUT_SIGMA * model * np.sqrt(2 / points.free)
    covariance: Floats = inverse.astype(np.float64)
    return answer, covariance, kept


def _widening(points: Points, fitted: Floats, kept: Flags, parameters: int) -> float:
    """How much wider than by chance the tiles scatter, or the pairs: a factor on variances."""
    miss = (points.variance - fitted) / (fitted * np.sqrt(2 / points.free))
    tiles = _beyond_chance(float(np.sum(miss[kept] ** 2)), int(kept.sum()) - parameters)
    by_pair = [miss[kept & (points.pair == k)] for k in np.unique(points.pair)]
    sums = [float(part.sum()) ** 2 / part.size for part in by_pair if part.size]
    return max(1.0, tiles, _beyond_chance(sum(sums), len(sums) - parameters))


def _beyond_chance(total: float, free: int) -> float:
    if free < 1 or total < float(chi2.isf(UNLIKELY, free)):
        return 1.0
    return total / free


def _distinct(points: Points) -> list[float]:
    """Median levels of the pairs, those within 8 % of each other once."""
    medians = sorted(
        float(np.median(points.level[points.pair == k])) for k in np.unique(points.pair)
    )
    apart: list[float] = []
    for level in medians:
        if not apart or level > apart[-1] * (1 + SAME_LEVEL):
            apart.append(level)
    return apart
