"""Rows and columns that jump together: what shows as bands when the shadows are lifted.

EMVA 1288 Release 4.0 Linear parts the pattern of a sensor into rows, columns and pixels; here the
part that changes from frame to frame (noise) is told from the part that stays (pattern), from two
frames in the dark.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import uniform_filter1d

from nightglass.frame.record import Frame
from nightglass.optics.arrays import Counts, Floats
from nightglass.optics.compiled import compiled
from nightglass.sensor.records import Known

CUT_SIGMA = 6.0
SMOOTH_LINES = 65
"""Slower changes down the frame are glow and shading, not bands."""


@dataclass(frozen=True)
class Bands:
    """Variances of row and column means [counts^2], the pixels' own noise in them taken off."""

    row_noise: Known
    row_pattern: Known
    column_noise: Known
    column_pattern: Known


def bands(a: Frame, b: Frame, level: Floats, sigma: Floats) -> Bands:
    """Return the bands of two dark frames.

    level, sigma: mean and temporal deviation of a sample per colour number [counts].
    """
    lines = [_means(f, level, CUT_SIGMA * sigma) for f in (a, b)]
    own = float(np.nanmean(sigma**2)) if np.isfinite(sigma).any() else 0.0
    height, width = a.samples.shape[:2]
    rows = _parts(lines[0][0], lines[1][0], own / width)
    columns = _parts(lines[0][1], lines[1][1], own / height)
    return Bands(rows[0], rows[1], columns[0], columns[1])


def deviation(variance: Known) -> Known:
    """Return the root of a variance with its error; 0 where the variance is below."""
    if variance.value is None or variance.err is None:
        return Known()
    root = float(np.sqrt(max(variance.value, 0.0)))
    if not variance.err:
        return Known(root, 0.0)
    return Known(root, variance.err / max(2 * root, float(np.sqrt(variance.err))))


def _parts(a: Floats, b: Floats, pixel_part: float) -> tuple[Known, Known]:
    """What changes between the frames, and what both share."""
    n = a.size
    changing = float(np.var(a - b, ddof=1)) / 2
    noise = Known(changing - pixel_part, float(changing * np.sqrt(2 / (n - 1))))
    fine_a, fine_b = (
        line - uniform_filter1d(line, SMOOTH_LINES, mode="nearest") for line in (a, b)
    )
    scale = 1 / (1 - 1 / SMOOTH_LINES)
    shared = float(np.cov(fine_a, fine_b)[0, 1]) * scale
    spread = np.sqrt((float(np.var(fine_a)) * float(np.var(fine_b)) + shared**2) / (n - 1)) * scale
    return noise, Known(shared, float(spread))


def _means(frame: Frame, level: Floats, reach: Floats) -> tuple[Floats, Floats]:
    return _row_and_column_means(
        np.ascontiguousarray(frame.samples),
        frame.pattern.astype(np.int64),
        np.nan_to_num(level),
        np.nan_to_num(reach),
    )


@compiled
def _row_and_column_means(
    samples: Counts, pattern: NDArray[np.int64], level: Floats, reach: Floats
) -> tuple[Floats, Floats]:
    """Means over rows and columns of what samples lie above their colour's level."""
    height, width = samples.shape
    p, q = pattern.shape
    rows, columns = np.zeros(height), np.zeros(width)
    in_row, in_column = np.zeros(height), np.zeros(width)
    for y in range(height):
        for x in range(width):
            colour = pattern[y % p, x % q]
            above = float(samples[y, x]) - level[colour]
            if abs(above) <= reach[colour]:
                rows[y] += above
                columns[x] += above
                in_row[y] += 1
                in_column[x] += 1
    for y in range(height):
        rows[y] /= max(in_row[y], 1.0)
    for x in range(width):
        columns[x] /= max(in_column[x], 1.0)
    return rows, columns
