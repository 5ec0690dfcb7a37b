"""One extent of a spot through focus: a curve fitted to frames.

Far from focus a spot is the lens's opening cast on the sensor and grows in proportion to the
distance from focus; at focus what is left is aberration, diffraction, pixel and source. The second
moments of the light are a parabola of focus whatever the wavefront, so size^2 = best^2 +
(slope (z - best focus))^2 is exact for them; a 90 % length follows it nearly, with another slope on
either side where there is spherical aberration.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.optimize import OptimizeResult, least_squares
from scipy.special import stdtrit

from nightglass.bench.focus.records import FocusCurve, Value
from nightglass.optics.arrays import Floats

SKEW_SIGMA = 0.05
"""How far ln(slope above / slope below) / 2 usually strays from 0: design/focus_series.py."""
LEAST_REL_ERR = 0.02
"""No frame counts as surer than this: marks are set by hand, and the curve is not exact."""
FAR_TIMES = 1.5
"""From this many times the smallest size the curve is trusted less, in proportion."""
ONE_SIGMA = 0.841344746
STATED_WORTH = 4
"""The errors as stated weigh as much as this many frames' distances from the curve."""
TINY = 1e-100
POSITION, LOG_SIZE, LOG_SLOPE, SKEW = range(4)


@dataclass(frozen=True)
class Sizes:
    """What is fitted: positions, sizes and errors [px], bounds where a size is at limit."""

    positions: Floats
    sizes_px: Floats
    """For a frame at limit its upper bound."""
    errs_px: Floats
    bounds: np.ndarray[tuple[int], np.dtype[np.bool_]]


def log_size(numbers: ArrayLike, positions: ArrayLike) -> Floats:
    """Return ln size [px] at positions for (position, ln size, ln slope, skew) of a curve."""
    best, size, slope, skew = np.asarray(numbers, dtype=np.float64)
    away = np.asarray(positions, dtype=np.float64) - best
    side = slope + np.where(away < 0, -skew, skew)
    curve: Floats = 0.5 * np.logaddexp(2 * size, 2 * (side + np.log(np.abs(away) + TINY)))
    return curve


def size_at(curve: FocusCurve, positions: ArrayLike) -> Floats:
    """Return the size [px] at positions."""
    away = np.asarray(positions, dtype=np.float64) - curve.position.value
    slope = np.where(away < 0, curve.slope_low_px, curve.slope_high_px)
    return np.hypot(curve.size_px.value, slope * away)


def fit_curve(given: Sizes) -> FocusCurve:
    """Return the curve through sizes; outliers pull little.

    Needs sizes at three different positions at least. Raises ValueError otherwise.
    """
    distinct = np.unique(given.positions).size
    if distinct < 3:
        raise ValueError(f"a curve through focus needs 3 positions at least, not {distinct}")
    span = float(np.ptp(given.positions))
    runs = [_run(given, start, span) for start in _starts(given)]
    best = min(runs, key=lambda run: float(run.cost))
    return _as_curve(best, given, span)


def _starts(given: Sizes) -> Sequence[Floats]:
    order = np.argsort(given.sizes_px)
    smallest = float(given.sizes_px.min())
    starts = []
    for best in dict.fromkeys(given.positions[order[:3]].tolist()):
        away = np.abs(given.positions - best)
        slope = float(np.median(given.sizes_px[away > 0] / away[away > 0]))
        starts.append(np.array([best, math.log(smallest), math.log(slope), 0.0]))
    return starts


def _run(given: Sizes, start: Floats, span: float) -> OptimizeResult:
    scale = np.array([span / 10, 0.3, 0.3, 0.3])
    low = np.array([given.positions.min() - 2 * span, math.log(0.2), -np.inf, -1.5])
    high = np.array([given.positions.max() + 2 * span, math.log(1e4), np.inf, 1.5])
    return least_squares(
        _rest,
        np.clip(start, low + 1e-9, high - 1e-9),
        bounds=(low, high),
        loss="soft_l1",
        x_scale=scale,
        args=(given,),
    )


def _rest(numbers: Floats, given: Sizes) -> Floats:
    """Distances of frames from the curve over their errors, and the skew over its usual size."""
    curve = log_size(numbers, given.positions)
    rest = (curve - np.log(given.sizes_px)) / relative_errs(given)
    # A frame at limit says nothing as long as the curve stays under its bound.
    rest = np.where(given.bounds, np.maximum(rest, 0.0), rest)
    return np.append(rest, numbers[SKEW] / SKEW_SIGMA)


def relative_errs(given: Sizes) -> Floats:
    """Return the errors of ln size that the fit uses."""
    far = np.maximum(1.0, given.sizes_px / given.sizes_px.min() / FAR_TIMES)
    errs: Floats = np.hypot(given.errs_px / given.sizes_px, LEAST_REL_ERR) * far
    return errs


def _as_curve(run: OptimizeResult, given: Sizes, span: float) -> FocusCurve:
    numbers = np.asarray(run.x, dtype=np.float64)
    rest = _rest(numbers, given)[:-1]
    measured = int(np.count_nonzero(~given.bounds))
    # The skew has its own usual size; three unknowns are left to the frames.
    free = max(measured - 3, 0)
    misfit = math.sqrt(float(rest @ rest) / max(measured, 1))
    inverse = np.linalg.pinv(run.jac.T @ run.jac, hermitian=True)
    known = free + STATED_WORTH
    scatter = math.sqrt((float(rest @ rest) + STATED_WORTH) / known)
    widened = scatter * float(stdtrit(known, ONE_SIGMA))
    covariance = inverse * widened**2
    errs = np.sqrt(np.maximum(np.diag(covariance), 0.0))
    slope, skew = float(numbers[LOG_SLOPE]), float(numbers[SKEW])
    size = math.exp(float(numbers[LOG_SIZE]))
    return FocusCurve(
        Value(float(numbers[POSITION]), min(float(errs[POSITION]), 10 * span)),
        Value(size, size * float(errs[LOG_SIZE])),
        math.exp(slope - skew),
        math.exp(slope + skew),
        misfit,
        free,
        tuple(tuple(float(v) for v in row) for row in covariance),
    )


def numbers_of(curve: FocusCurve) -> Floats:
    """Return (position, ln size, ln slope, skew) of a curve, as its covariance counts them."""
    low, high = curve.slope_low_px, curve.slope_high_px
    return np.array([
        curve.position.value, math.log(curve.size_px.value), 0.5 * math.log(low * high),
        0.5 * math.log(high / low),
    ])  # fmt: skip
