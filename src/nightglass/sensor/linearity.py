"""Does twice the time give twice the counts? EMVA 1288 Release 3.1, clause 6.7."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from nightglass.sensor.records import Known, Linearity

LOWEST_SHARE, HIGHEST_SHARE = 0.05, 0.95
"""Of saturation: the range in which the standard holds the line against the levels."""
LEAST_STEPS, LEAST_SPAN = 4, 4.0


@dataclass(frozen=True)
class TimedLevel:
    """Mean level of a pair above black [counts] at an exposure time, and how the two differ."""

    exposure_s: float
    level: float
    ratio: float
    """Level of the second frame over the first's."""


def linearity(levels: Sequence[TimedLevel], full_counts: float) -> Linearity | None:
    """Return the mean relative distance of the levels from a straight line over time.

    The line is fitted with relative weights, as the standard does. None with fewer than four
    times, or where the longest is under four times the shortest: levels that were made with light
    or aperture tell nothing here. The error is what the light's own scatter between two frames of
    a pair does.
    """
    used = [
        one for one in levels
        if LOWEST_SHARE * full_counts <= one.level <= HIGHEST_SHARE * full_counts
    ]  # fmt: skip
    times = sorted({one.exposure_s for one in used})
    if len(times) < LEAST_STEPS or times[-1] < LEAST_SPAN * times[0]:
        return None
    t = np.array([one.exposure_s for one in used])
    y = np.array([one.level for one in used])
    design = np.stack([1 / y, t / y], axis=1)
    answer, *_ = np.linalg.lstsq(design, np.ones_like(y), rcond=None)
    fitted = answer[0] + answer[1] * t
    away = float(np.mean(np.abs(100 * (y - fitted) / fitted)))
    # Two frames differ by sqrt 2 of one frame's scatter; a pair's mean scatters by 1 / sqrt 2.
    scatter = 100 * float(np.sqrt(np.mean([(one.ratio - 1) ** 2 for one in used]) / 2))
    err = scatter / np.sqrt(2) / np.sqrt(len(used))
    return Linearity(Known(away, float(err)), len(times), scatter)
