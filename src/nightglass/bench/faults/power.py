"""What a comparison of places can find: the chance to find a fault of a given size.

An F test of k means that differ has the noncentral F distribution (any handbook of statistics);
its noncentrality is the sum of squared differences from the mean over the variance of one mean.
Where only the ratio of worst to best is known, the least that it can be has all other places half
way between (in logarithms).
"""

from __future__ import annotations

import math

from scipy.special import fdtri, ncfdtr

FOUND = 0.9
MOST_RATIO = 100.0
_MANY = 1e6


def chance_to_find(
    ratio: float, variance: float, between: int, within: float, level: float
) -> float:
    """Return the chance that worst over best of that ratio is found, at least.

    variance: of one place's mean ln(length); between, within: degrees of freedom of the F test;
    level: its chance of a wrong alarm. Raises ValueError for a ratio under 1 or no variance.
    """
    if not ratio >= 1 or not variance > 0:
        raise ValueError(f"ratio {ratio:g} and variance {variance:g}: allowed are 1 and above 0")
    freedom = min(within, _MANY)
    reach = float(fdtri(between, freedom, 1 - level))
    noncentrality = math.log(ratio) ** 2 / 2 / variance
    missed = float(ncfdtr(between, freedom, noncentrality, reach))
    # The library gives nan where the chance to miss has gone under what it can resolve.
    return 1.0 if math.isnan(missed) else 1 - missed


def ratio_found(variance: float, between: int, within: float, level: float) -> float | None:
    """Return the ratio that is found with a chance of 90 %; None above 100. Errors as above."""

    # Loaded where a copy was tested: it takes a third of a second.
    from scipy.optimize import brentq

    def short(log_ratio: float) -> float:
        ratio = math.exp(log_ratio)
        return chance_to_find(ratio, variance, between, within, level) - FOUND

    most, far = math.log(MOST_RATIO), 0.01
    while short(far) < 0:
        if far >= most:
            return None
        far = min(1.5 * far, most)
    return math.exp(float(brentq(short, 0.0, far, xtol=1e-4)))
