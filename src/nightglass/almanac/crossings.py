"""When a height crosses a level: on a grid of times, refined to a fraction of a second.

A missed event is a wrong plan, so three things are not left to the grid: turning points between
grid times are found with a parabola (a moon that rises for ten minutes in the far north), a level
never reached gives an empty list, and nothing is reported at the ends of the span.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from nightglass.optics.arrays import Flags, Floats

Height = Callable[[Floats], Floats]
"""Height above the level in question at times [s]; positive is up."""


@dataclass(frozen=True)
class Crossings:
    """Times [s] in order, and whether the height rises there; up at the start of the span."""

    times_s: Floats
    rising: Flags
    up_at_start: bool

    def spans_up(self, start_s: float, end_s: float) -> list[tuple[float, float]]:
        """Return the (start, end) pairs inside start_s to end_s during which it is up."""
        before = np.searchsorted(self.times_s, start_s, side="right")
        after = np.searchsorted(self.times_s, end_s, side="left")
        up = bool(self.rising[before - 1]) if before else self.up_at_start
        spans, opened = [], start_s if up else None
        for t, rises in zip(self.times_s[before:after], self.rising[before:after], strict=True):
            if rises:
                opened = float(t)
            elif opened is not None:
                spans.append((opened, float(t)))
                opened = None
        if opened is not None:
            spans.append((opened, end_s))
        return spans

    def inside(self, start_s: float, end_s: float, rising: bool) -> list[float]:
        """Return the times of risings (or settings) in start_s to end_s."""
        chosen = (self.times_s >= start_s) & (self.times_s < end_s) & (self.rising == rising)
        return [float(t) for t in self.times_s[chosen]]


def crossings(height: Height, grid_s: Floats, values: Floats | None = None) -> Crossings:
    """Return all crossings of zero between the first and the last grid time.

    grid_s: (n,) rising, evenly spaced. values: heights there, if already known.
    """
    known = height(grid_s) if values is None else values
    times, known = _with_turning_points(height, grid_s, known)
    up = known > 0
    change = np.flatnonzero(up[1:] != up[:-1])
    if not change.size:
        return Crossings(np.empty(0), np.empty(0, dtype=bool), bool(up[0]))
    low, high = times[change].copy(), times[change + 1].copy()
    at_low, at_high = known[change].copy(), known[change + 1].copy()
    for _ in range(7):  # 300 s / 2^7: what is left is straight to a millisecond
        middle = 0.5 * (low + high)
        here = height(middle)
        left = (here > 0) == (at_low > 0)
        low, at_low = np.where(left, middle, low), np.where(left, here, at_low)
        high, at_high = np.where(left, high, middle), np.where(left, at_high, here)
    roots = low - at_low * (high - low) / (at_high - at_low)
    return Crossings(roots, up[change + 1], bool(up[0]))


def turning_points(grid_s: Floats, values: Floats) -> tuple[Floats, Floats]:
    """Return (times, heights) of the local extremes by a parabola through three grid values."""
    a, b, c = values[:-2], values[1:-1], values[2:]
    bent = ((b >= a) & (b > c)) | ((b <= a) & (b < c))
    k = np.flatnonzero(bent)
    curve = a[k] - 2 * b[k] + c[k]
    shift = 0.5 * (a[k] - c[k]) / curve
    step = grid_s[1] - grid_s[0]
    return grid_s[k + 1] + shift * step, b[k] - 0.25 * (a[k] - c[k]) * shift


def _with_turning_points(height: Height, grid_s: Floats, values: Floats) -> tuple[Floats, Floats]:
    extra, _ = turning_points(grid_s, values)
    extra = extra[(extra > grid_s[0]) & (extra < grid_s[-1])]
    if not extra.size:
        return grid_s, values
    times = np.concatenate([grid_s, extra])
    heights = np.concatenate([values, height(extra)])
    order = np.argsort(times, kind="stable")
    return times[order], heights[order]
