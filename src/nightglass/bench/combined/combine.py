"""Repeats of one quantity combined with their real scatter."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import stdtrit

from nightglass.bench.records import Combined

FEW = 3
"""With up to 3 repeats their own scatter says too little: the pooled one takes its place."""
POOL_LEAST_DOF = 4
"""Degrees of freedom from which a pooled scatter is used."""
ONE_SIGMA = 0.8413447460685429
"""Share of a normal distribution below +1 sigma."""
UPPER_95 = 1.6448536269514722
"""One-sided 95 % of a normal distribution, in sigmas."""


@dataclass(frozen=True)
class Scatter:
    """Standard deviation of single repeats (of the logarithm for sizes), degrees of freedom."""

    deviation: float
    dof: int


@dataclass(frozen=True)
class Repeats:
    """One quantity over the repeats of a zone; entries that were not measured are left out."""

    values: tuple[float, ...] = ()
    errors: tuple[float, ...] = ()
    """1-sigma of each, noise and method together; 0 where not known."""
    noise_errors: tuple[float, ...] = ()
    bounds: tuple[float, ...] = ()
    """95 % upper bounds of the repeats at limit."""
    relative: bool = True
    """Sizes scatter in proportion (the logarithm counts); places and lean do not."""


def pooled_scatter(groups: Iterable[Repeats], least_dof: int = 1) -> Scatter | None:
    """Return the scatter over the repeats of comparable zones.

    None with fewer degrees of freedom than least_dof.
    """
    squares, dof = 0.0, 0
    for group in groups:
        own = own_scatter(group)
        if own is not None:
            squares += own.dof * own.deviation**2
            dof += own.dof
    return Scatter(math.sqrt(squares / dof), dof) if dof >= least_dof else None


def own_scatter(repeats: Repeats) -> Scatter | None:
    """Return the scatter of the repeats of one zone, or None for fewer than two."""
    n = len(repeats.values)
    if n < 2:
        return None
    values = repeats.values
    if repeats.relative:
        if min(values) <= 0:
            return None
        values = tuple(math.log(value) for value in values)
    # Not by arrays: for three values they cost ten times the sum.
    mean = math.fsum(values) / n
    return Scatter(math.sqrt(math.fsum((v - mean) ** 2 for v in values) / (n - 1)), n - 1)


def combine(repeats: Repeats, pool: Scatter | None = None) -> Combined:
    """Return the mean of the repeats, its 1-sigma error, and an upper bound if some are at limit.

    The error is t s / sqrt(n): s the scatter of the repeats, or of the pool for 2 or 3 repeats
    when the pool has at least 4 degrees of freedom; t the quantile of Student's t that makes it
    hold in 68 % of cases with so few repeats. It is never under what noise alone leaves. One
    repeat has the error of its own measurement. Where half of the repeats or more are at limit,
    there is no value, only the bound: the larger of the median of the single bounds and the mean
    of the others plus 1.645 errors.
    """
    n, limited = len(repeats.values), len(repeats.bounds)
    bound = float(np.median(repeats.bounds)) if limited else None
    if n == 0:
        return Combined(None, None, at_most=bound)
    mean = sum(repeats.values) / n
    err = _error(repeats, mean, pool)
    if limited == 0 or bound is None:
        return Combined(mean, err, values=repeats.values)
    upper = mean + UPPER_95 * (err or 0.0)
    if limited >= n:
        return Combined(None, None, at_most=max(bound, upper), values=repeats.values)
    return Combined(mean, err, at_most=upper, values=repeats.values)


def circular_mean(angles_degrees: Sequence[float], period_degrees: float = 180.0) -> float:
    """Return the mean direction of axes, 0 to the period: 179 and 1 give 0, not 90."""
    turns = np.exp(2j * np.pi * np.asarray(angles_degrees) / period_degrees)
    return float(np.angle(turns.mean()) / (2 * np.pi) * period_degrees % period_degrees)


def _error(repeats: Repeats, mean: float, pool: Scatter | None) -> float | None:
    n = len(repeats.values)
    own = own_scatter(repeats)
    if own is None:
        return repeats.errors[0] if n == 1 and repeats.errors and repeats.errors[0] > 0 else None
    used = own
    if n <= FEW and pool is not None and pool.dof >= POOL_LEAST_DOF:
        used = pool
    deviation = used.deviation * abs(mean) if repeats.relative else used.deviation
    scatter = float(stdtrit(used.dof, ONE_SIGMA)) * deviation / math.sqrt(n)
    noise = math.sqrt(sum(e * e for e in repeats.noise_errors)) / n
    return max(scatter, noise)
