"""Edges of the 8 px squares of JPEG, and shadows cut off at black."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from nightglass.finish.records import Blocks
from nightglass.optics.arrays import Flags, Floats, Floats32

BLOCK_PX = 8
"""ISO/IEC 10918-1, A.3.1: squares of 8 by 8 samples from the top left."""
CUT_PERCENTILE = 90.0


def block_edges(
    picture: Floats32, reference: Floats32, sky: Flags, from_jpeg: bool
) -> Blocks | None:
    """Return steps at block edges over other steps in light as the eye takes it, (rows, columns).

    from_jpeg: the file's own squares begin at its corner; else the most marked of all
    beginnings is taken, for a JPEG that was saved anew. None with too little sky.
    """
    own, err = _ratios(picture, sky)
    if own is None:
        return None
    other, _ = _ratios(reference, sky)
    if from_jpeg:
        k, m = BLOCK_PX - 1, BLOCK_PX - 1
    else:
        k, m = int(np.argmax(own[0])), int(np.argmax(own[1]))
    ratio = float((own[0, k] + own[1, m]) / 2)
    reference_ratio = float((other[0, k] + other[1, m]) / 2) if other is not None else 1.0
    return Blocks(ratio, err / 2**0.5, reference_ratio)


def edge_steps(plane: Floats32, axis: int) -> Floats32:
    """Return the size of each step to the next sample along an axis, (rows, columns), 0 last."""
    step = np.abs(np.diff(plane, axis=axis))
    out = np.zeros_like(plane)
    if axis == 0:
        out[:-1] = step
    else:
        out[:, :-1] = step
    return out


def _ratios(plane: Floats32, sky: Flags) -> tuple[Floats | None, float]:
    """Steps (2, 8) by axis and beginning over the largest of the others, and their error."""
    means = np.zeros((2, BLOCK_PX))
    err = 0.0
    for axis in (0, 1):
        step = edge_steps(plane, axis)
        good = sky & np.roll(sky, -1, axis=axis)
        if good.sum() < 40 * BLOCK_PX:
            return None, 0.0
        # Rests of stars would outweigh everything.
        top = np.percentile(step[good], CUT_PERCENTILE)
        cut = np.minimum(step, max(float(top), 1e-9))
        for k in range(BLOCK_PX):
            part = (slice(k, None, BLOCK_PX), slice(None))
            part = part if axis == 0 else part[::-1]
            values = cut[part][good[part]]
            means[axis, k] = values.mean()
            err = max(err, float(values.std()) / max(len(values), 1) ** 0.5)
    # Over the largest other step: smoothing by wavelets marks each second and fourth one too.
    others = np.empty_like(means)
    for k in range(BLOCK_PX):
        others[:, k] = np.delete(means, k, axis=1).max(axis=1)
    if others.min() <= 0:
        return None, 0.0
    return means / others, err / float(others.min())


def clipped_share(planes: NDArray[Any], valid: Flags) -> float:
    """Return the share of pixels with a colour at or under 0, of (rows, columns[, 3])."""
    least = planes.min(axis=2) if planes.ndim == 3 else planes
    return float(np.mean(least[valid] <= 0))
