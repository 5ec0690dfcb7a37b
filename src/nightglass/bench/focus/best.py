"""Where the length is least: the larger of two extents through focus, its best point, its depth."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from nightglass.bench.focus.curve import log_size, numbers_of
from nightglass.bench.focus.records import BestFocus, Depth, FocusCurve, Value
from nightglass.optics.arrays import Floats

DEPTH_TIMES = 1.2
"""Depth of focus: where the length is this many times the best."""
SHARPNESS = 16.0
"""Power by which the larger extent decides the length: design/focus_series.py."""
METHOD_DEPTHS = 0.03
"""Error of best focus from the curves themselves, in depths of focus: design/focus_series.py."""
STEPS = 801
DRAWS = 100


def log_length(numbers: Sequence[ArrayLike], positions: ArrayLike) -> Floats:
    """Return ln length [px] at positions for the numbers of one or two curves (`log_size`).

    The length lies along the long axis, which is the larger of the radial and the tangential
    extent; where both are alike the axis is free and lies between them.
    """
    logs = np.array([log_size(one, positions) for one in numbers])
    if len(logs) == 1:
        return logs[0]
    mean: Floats = np.logaddexp.reduce(SHARPNESS * logs, axis=0) / SHARPNESS
    return mean


def length_at(best: BestFocus, positions: ArrayLike) -> Floats:
    """Return the length [px] at positions."""
    return np.exp(length_logs(best, positions))


def length_logs(best: BestFocus, positions: ArrayLike) -> Floats:
    """Return ln length [px] at positions."""
    return log_length([numbers_of(curve) for curve in best.curves], positions) + best.log_scale


def position_of(curves: Sequence[FocusCurve]) -> float:
    """Return where the length of one or two curves is least."""
    grid = _grid(curves)
    return _least(grid, log_length([numbers_of(curve) for curve in curves], grid))[0]


def scale_of(curves: Sequence[FocusCurve], positions: Floats, lengths_px: Floats) -> float:
    """Return ln of the measured lengths over those that the curves make of two extents.

    Two extents that are alike count as 2^(1/16) of either; a round spot's length is either. Frames
    near best focus decide: within twice the least length.
    """
    if not lengths_px.size:
        return 0.0
    near = lengths_px <= 2 * lengths_px.min()
    made = log_length([numbers_of(curve) for curve in curves], positions[near])
    return float(np.median(np.log(lengths_px[near]) - made))


def best_of(
    curves: Sequence[FocusCurve], log_scale: float = 0.0, bound_px: float | None = None
) -> BestFocus:
    """Return where the length of one or two curves is least, with errors.

    log_scale: see scale_of. bound_px: upper bound of the best length where the frame nearest to it
    is at limit.
    """
    grid = _grid(curves)
    plain = [numbers_of(curve) for curve in curves]
    logs = log_length(plain, grid)
    position, size = _least(grid, logs)
    drawn = [_least(grid, log_length(numbers, grid)) for numbers in draws_of(curves)]
    scatter = float(np.std([one[0] for one in drawn]))
    low, high = _within(grid, logs, math.log(DEPTH_TIMES * size), position)
    position_err = math.hypot(scatter, METHOD_DEPTHS * (high - low))
    log_err = float(np.std([np.log(one[1]) for one in drawn]))
    size = size * math.exp(log_scale) if bound_px is None else bound_px
    return BestFocus(
        Value(position, position_err),
        Value(size, size * log_err),
        tuple(curves),
        log_scale,
        bound_px is not None,
    )


def draws_of(curves: Sequence[FocusCurve], count: int = DRAWS) -> list[list[Floats]]:
    """Return numbers of the curves drawn from their errors, the same ones each time."""
    rng = np.random.default_rng(12)
    drawn = [
        rng.multivariate_normal(numbers_of(c), np.array(c.covariance), count, method="eigh")
        for c in curves
    ]
    return [[one[k] for one in drawn] for k in range(count)]


def _grid(curves: Sequence[FocusCurve]) -> Floats:
    """Positions that hold every best point with its error and the depth around it."""
    lows, highs = [], []
    for curve in curves:
        reach = 2.0 * curve.size_px.value
        lows.append(curve.position.value - reach / curve.slope_low_px)
        highs.append(curve.position.value + reach / curve.slope_high_px)
    return np.linspace(min(lows), max(highs), STEPS)


def _least(grid: Floats, logs: Floats) -> tuple[float, float]:
    """Position and size of the least, between the steps of the grid by a parabola."""
    k = int(np.clip(np.argmin(logs), 1, grid.size - 2))
    a, b, c = logs[k - 1], logs[k], logs[k + 1]
    bend = a - 2 * b + c
    shift = 0.0 if bend <= 0 else float(np.clip(0.5 * (a - c) / bend, -1, 1))
    return float(grid[k] + shift * (grid[1] - grid[0])), float(np.exp(b - 0.25 * (a - c) * shift))


def depth_of(best: BestFocus) -> Depth:
    """Return where the length stays within 1.2 times the best, and its error.

    With a bound of the best length the curves are taken through that bound: at most so deep.
    """
    wide = _grid(best.curves)
    span = float(wide[-1] - wide[0])
    grid = np.linspace(wide[0] - span / 2, wide[-1] + span / 2, 2 * STEPS)
    limit = np.log(DEPTH_TIMES * best.size_px.value)
    low, high = _within(grid, length_logs(best, grid), limit, best.position.value)
    widths = []
    for numbers in draws_of(best.curves):
        logs = log_length(numbers, grid)
        at, size = _least(grid, logs)
        edges = _within(grid, logs, np.log(DEPTH_TIMES * size), at)
        widths.append(edges[1] - edges[0])
    return Depth(low, high, high - low, float(np.std(widths)), best.size_is_bound)


def _within(grid: Floats, logs: Floats, limit: float, at: float) -> tuple[float, float]:
    """The piece around a position in which the curve stays under a limit."""
    k = int(np.argmin(np.abs(grid - at)))
    over = np.flatnonzero(logs > limit)
    below, above = over[over < k], over[over > k]
    low, high = float(grid[0]), float(grid[-1])
    if below.size:
        i = int(below[-1])
        low = float(np.interp(limit, [logs[i + 1], logs[i]], [grid[i + 1], grid[i]]))
    if above.size:
        i = int(above[0])
        high = float(np.interp(limit, [logs[i - 1], logs[i]], [grid[i - 1], grid[i]]))
    return low, high
