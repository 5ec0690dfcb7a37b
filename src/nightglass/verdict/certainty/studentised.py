"""The studentised range: how far apart the ends of several equal means come by chance."""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
from scipy.special import lambertw, ndtr

from nightglass.optics.arrays import Floats

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(128)
"""Over the means: half as many are 5e-6 off at 20 means, 1.6e-5 at 50."""
_REACH = 8.0
"""The normal distribution is cut here: 1e-15 of it lies beyond."""
_CUT = 28.0
"""The density of the estimated scatter is cut where it fell by exp(-28), 7e-13 of its peak."""
_STEPS = 192
"""Steps over the scatter: 0.16 of its logarithm at one degree of freedom, the widest case."""


def range_probability(q: float, compared: int, degrees_of_freedom: float) -> float:
    """Return the probability that the range of several means is at most q standard errors.

    compared: number of means; degrees_of_freedom: of the scatter, inf for a known one. Good to
    1e-8 from one degree of freedom on. Source: the distribution's definition, e.g. Lund & Lund
    1983, Applied Statistics 32, 204 (AS 190).
    """
    if math.isinf(degrees_of_freedom):
        return float(_of_known_scatter(np.array([q]), compared)[0])
    scatter, weights = _scatter(degrees_of_freedom)
    return float(weights @ _of_known_scatter(q * scatter, compared))


@lru_cache(maxsize=64)
def _scatter(v: float) -> tuple[Floats, Floats]:
    """Return ratios of estimated to true scatter (chi over root v) and their weights, sum 1.

    Even steps of the logarithm: with few degrees of freedom the wide ranges come from scatters
    near zero, which even steps of the scatter itself pass over. There the integrand is smooth and
    falls off at both ends, so that the trapezoidal rule converges faster than any power of the
    step (Trefethen & Weideman 2014, SIAM Review 56, 385).
    """
    # The density over t = ln(scatter) goes as exp(v (t - exp(2 t) / 2)), its peak is at t = 0; the
    # two ends are where it fell by the cut: y = exp(2 t) solves ln(y) - y = -1 - 2 cut / v.
    argument = -math.exp(-1 - 2 * _CUT / v)
    low, high = (0.5 * math.log(-float(lambertw(argument, branch).real)) for branch in (0, -1))
    t = np.linspace(low, high, _STEPS + 1)
    density = np.exp(v * (t - np.exp(2 * t) / 2 + 0.5))
    return np.exp(t), density / density.sum()


@lru_cache(maxsize=4096)
def range_quantile(probability: float, compared: int, degrees_of_freedom: float) -> float:
    """Return the q that range_probability reaches with a probability of 0.5 to 0.999.

    Raises ValueError for another probability, fewer than two means or degrees of freedom under 1.
    """
    if not 0.5 <= probability <= 0.999:
        raise ValueError(f"probability is {probability:g}; allowed: 0.5 to 0.999")
    if compared < 2:
        raise ValueError(f"{compared} means have no range; it takes 2 or more")
    if not degrees_of_freedom >= 1:
        raise ValueError(f"degrees_of_freedom is {degrees_of_freedom:g}; it takes 1 or more")
    # Regula falsi on the logarithm of the tail, which is nearly straight in q; halved if slow.
    low, high = 0.0, 8.0
    wanted = math.log1p(-probability)
    at_low, at_high = 0.0, _log_tail(high, compared, degrees_of_freedom)
    while at_high > wanted:
        low, at_low, high = high, at_high, 2 * high
        at_high = _log_tail(high, compared, degrees_of_freedom)
    for step in range(100):
        share = (at_low - wanted) / (at_low - at_high)
        q = low + (high - low) * (share if step % 3 else 0.5)
        at_q = _log_tail(q, compared, degrees_of_freedom)
        if at_q > wanted:
            low, at_low = q, at_q
        else:
            high, at_high = q, at_q
        if high - low < 1e-7 * high or abs(at_q - wanted) < 1e-9:
            break
    return q


def _log_tail(q: float, compared: int, degrees_of_freedom: float) -> float:
    return math.log(max(1e-14, 1 - range_probability(q, compared, degrees_of_freedom)))


def _of_known_scatter(widths: Floats, compared: int) -> Floats:
    """Probability that all of `compared` standard normal values lie within each width."""
    z = _REACH * _NODES
    density = _REACH * _WEIGHTS * np.exp(-z * z / 2) / math.sqrt(2 * math.pi)
    within = ndtr(z) - ndtr(z - widths[:, None])
    found: Floats = compared * (within ** (compared - 1)) @ density
    return found
