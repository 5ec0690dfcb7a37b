"""The limiting magnitude: where half of the catalogue's stars in the open sky are found."""

from __future__ import annotations

import math

import numpy as np
from scipy.optimize import minimize
from scipy.special import expit

from nightglass.optics.arrays import Flags, Floats
from nightglass.sky.photometry.codes import LimitSource
from nightglass.sky.photometry.open_sky import Hits, in_open

BRIGHTEST_G, CATALOGUE_COMPLETE_G = 3.0, 9.5
"""The catalogue goes to G 10; half a magnitude is left for the fit to see the stars vanish."""
BIN_MAG = 0.1
LEAST_EITHER_SIDE = 12
"""Stars within NEAR_MAG of the limit, on its bright and on its faint side."""
NEAR_MAG = 1.5
LEAST_FOUND = 0.55
"""Share of the bright stars that must be found: below, half of them is no limit of the light."""
SHAPE_ERR, HIDDEN_SHAPE_ERR = 0.05, 0.15
"""Of the curve's width: what an error function in place of the logistic curve moves the half-way
point, alone and per (1 / (2 share - 1) - 1) of stars that land and neighbours hide
(tests/sky/photometry/test_photometry_limit.py)."""
WIDTH_MAG = (0.02, 1.5)


def limiting_magnitude(
    hits: Hits, open_cells: Flags
) -> tuple[float | None, float | None, LimitSource]:
    """Return the magnitude at which half of the stars are found, its error, and how it is known.

    A falling logistic curve from a share of bright stars (land and neighbours hide some) is
    fitted by greatest likelihood to what was found and what was not. Where the catalogue ends
    before, or too few stars lie there, the line of SNR on magnitude says where it is 5; None with
    the reason where that is not known either.
    """
    inside = in_open(open_cells, hits.x, hits.y)
    inside &= (hits.magnitude >= BRIGHTEST_G) & (hits.magnitude < CATALOGUE_COMPLETE_G)
    half = _half_found(hits.magnitude[inside], hits.star[inside] >= 0)
    if half is not None:
        return *half, LimitSource.HALF_FOUND
    if hits.limit is None:
        return None, None, LimitSource.TOO_FEW_STARS
    if hits.limit > CATALOGUE_COMPLETE_G:
        return hits.limit, hits.limit_err, LimitSource.SNR_LINE_BEYOND_CATALOGUE
    return hits.limit, hits.limit_err, LimitSource.SNR_LINE


def _half_found(magnitude: Floats, found: Flags) -> tuple[float, float] | None:
    """Where the curve is one half, and its error; None where that is not known."""
    if found.size < 2 * LEAST_EITHER_SIDE:
        return None
    middles, count, seen = _binned(magnitude, found)
    fit = _curve(middles, count, seen)
    if fit is None:
        return None
    middle, width, share = fit
    if share < LEAST_FOUND:
        return None
    half = middle + width * math.log(2 * share - 1)
    bright = np.count_nonzero((magnitude > half - NEAR_MAG) & (magnitude < half))
    faint = np.count_nonzero((magnitude > half) & (magnitude < half + NEAR_MAG))
    if min(bright, faint) < LEAST_EITHER_SIDE:
        return None
    err = _error(middles, count, seen, fit)
    return None if err is None else (half, err)


def _binned(magnitude: Floats, found: Flags) -> tuple[Floats, Floats, Floats]:
    bins = ((magnitude - BRIGHTEST_G) / BIN_MAG).astype(np.intp)
    count = np.bincount(bins).astype(np.float64)
    seen = np.bincount(bins, weights=found.astype(np.float64))
    used = count > 0
    middles = np.asarray(BRIGHTEST_G + BIN_MAG * (np.flatnonzero(used) + 0.5), dtype=np.float64)
    return middles, count[used], np.asarray(seen[used], dtype=np.float64)


def _shares(middles: Floats, middle: float, width: float, share: float) -> Floats:
    p = share * expit((middle - middles) / width)
    return np.asarray(np.clip(p, 1e-4, 1 - 1e-4))


def _curve(middles: Floats, count: Floats, seen: Floats) -> tuple[float, float, float] | None:
    """Middle, width and bright share of the likeliest curve; None where it does not settle."""

    def cost(p: Floats) -> float:
        share = float(expit(p[2]))
        expected = _shares(middles, float(p[0]), float(np.exp(p[1])), share)
        unlikely = -np.sum(seen * np.log(expected) + (count - seen) * np.log(1 - expected))
        # A width that the stars do not tell stays near a third of a magnitude.
        return float(unlikely + 0.5 * ((p[1] - math.log(0.3)) / 1.0) ** 2)

    best = None
    for start in np.percentile(middles, [30, 60, 85]):
        fit = minimize(cost, np.array([start, math.log(0.3), 2.0]), method="Nelder-Mead")
        best = fit if best is None or fit.fun < best.fun else best
    if best is None or not np.isfinite(best.fun):
        return None
    width = float(np.clip(np.exp(best.x[1]), *WIDTH_MAG))
    return float(best.x[0]), width, float(expit(best.x[2]))


def _error(
    middles: Floats, count: Floats, seen: Floats, fit: tuple[float, float, float]
) -> float | None:
    """Error of the half-way point by the curve's information, wider where the bins scatter more."""
    at = np.array(fit)
    steps = np.array([0.01, 0.05 * fit[1], 0.005])
    expected = _shares(middles, *fit)
    variance = expected * (1 - expected)
    slopes = np.empty((middles.size, 3))
    way = np.empty(3)
    for k in range(3):
        low, high = at.copy(), at.copy()
        low[k] -= steps[k]
        high[k] += steps[k]
        high[2] = min(high[2], 1.0)
        gap = high[k] - low[k]
        slopes[:, k] = (_shares(middles, *high) - _shares(middles, *low)) / gap
        way[k] = (_half_of(*high) - _half_of(*low)) / gap
    information = (slopes * (count / variance)[:, None]).T @ slopes
    # What the prior of the width holds, and a share beyond which there is none.
    information += np.diag([0.0, 1 / fit[1] ** 2, 1.0 / 0.3**2])
    covariance = np.linalg.pinv(information)
    likely = variance * count > 0.5
    free = int(np.count_nonzero(likely)) - 3
    scatter = 1.0
    if free >= 5:
        miss = (seen - count * expected)[likely]
        scatter = max(1.0, float(np.sum(miss**2 / (count * variance)[likely])) / free)
    hidden = 1 / (2 * fit[2] - 1) - 1
    shape = fit[1] * (SHAPE_ERR + HIDDEN_SHAPE_ERR * hidden)
    err = math.hypot(math.sqrt(float(way @ covariance @ way) * scatter), shape)
    return err if math.isfinite(err) and err > 0 else None


def _half_of(middle: float, width: float, share: float) -> float:
    return middle + width * math.log(max(2 * share - 1, 1e-3))
