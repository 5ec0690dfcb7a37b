"""Noise behind whole counts: what rounding adds, and where it hides what was there.

Rounding adds 1/12 of a squared count to the variance (EMVA 1288 Release 3.1, clause 2.2) only
where the noise is wide. A Gaussian of standard deviation s about a mean m, rounded, has the
variance of its whole counts; where s comes near 0.4 counts, that depends on where between two
counts the mean lies.
"""

from __future__ import annotations

import numpy as np
from scipy.optimize import brentq
from scipy.special import ndtr

from nightglass.optics.arrays import Floats
from nightglass.sensor.records import UNKNOWN, Known

LEAST_SIGMA = 0.4
"""Counts: below it the standard gives only a bound (a dark variance under 0.24 = 0.4^2 + 1/12;
EMVA 1288 Release 3.1, clause 6.6)."""
WIDE_SIGMA = 2.0
"""Counts from which the 1/12 is exact to 1e-30."""
NODES, WEIGHTS = np.polynomial.hermite_e.hermegauss(15)
DOUBT = 0.1
"""Share of the correction beyond 1/12 that is not known: pixels do not spread as a Gaussian."""


def rounded_variance(sigma: float, mean: float, spread: float = 0.0) -> float:
    """Return the variance in time of rounded samples, the mean over pixels [counts^2].

    sigma: deviation before rounding; mean: level of the pixels, spread: their deviation from it.
    """
    if sigma >= WIDE_SIGMA:
        return sigma**2 + 1 / 12
    middle = mean - np.round(mean) + spread * NODES
    reach = int(np.ceil(6 * sigma + 6 * spread)) + 2
    whole = np.arange(-reach, reach + 1)
    edges = whole[None, :] - 0.5
    width = max(sigma, 1e-6)
    below = ndtr((edges - middle[:, None]) / width)
    above = ndtr((edges + 1 - middle[:, None]) / width)
    share: Floats = above - below
    first = (share * whole).sum(axis=1)
    second = (share * whole**2).sum(axis=1)
    return float(np.average(second - first**2, weights=WEIGHTS))


def sigma_before_rounding(
    variance: Known, mean: float, spread: float, step: float = 1.0
) -> tuple[Known, bool]:
    """Return the deviation before rounding [counts], and whether whole counts hide it.

    variance: in time, of rounded samples, with its error; step: counts between the values that
    the file uses. Where noise under 0.4 steps fits as well, only the bound is given. A variance
    that is not known gives nothing.
    """
    if variance.value is None or variance.err is None:
        return UNKNOWN, False
    v, v_err = variance.value / step**2, variance.err / step**2
    at, wide = mean / step, spread / step
    high = _largest_sigma(v, at, wide)
    if v - 2 * v_err <= rounded_variance(LEAST_SIGMA, at, wide):
        bound = max(_largest_sigma(v + 1.645 * v_err, at, wide), LEAST_SIGMA)
        return Known(at_most=bound * step), True
    odd = v - high**2 - 1 / 12
    err = np.hypot(v_err, DOUBT * odd) / (2 * high)
    return Known(high * step, float(err) * step), False


def _largest_sigma(variance: float, mean: float, spread: float) -> float:
    """The largest deviation whose rounded variance is the one given; 0 below all of them."""
    top = float(np.sqrt(variance)) + 1.0
    if variance <= rounded_variance(0.25, mean, spread):
        return 0.0
    return float(
        brentq(lambda s: rounded_variance(s, mean, spread) - variance, 0.25, top, xtol=1e-9)
    )
