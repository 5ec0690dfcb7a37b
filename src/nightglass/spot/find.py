"""Finding the one artificial star in a frame, with no help.

A star stands out over a few pixels; a hot pixel stands alone; a lit floor stands out over
hundreds. The frame is read once: small boxes that hold every colour are summed, their brightest
sample counted for a part only, and the best box of each block is kept. The best candidates, above
the level of the blocks around them, are then looked at closely.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import median_filter

from nightglass.frame.record import Frame
from nightglass.frame.window import window
from nightglass.optics.arrays import Floats, Ints64
from nightglass.optics.compiled import compiled
from nightglass.optics.extent import MAD_TO_SIGMA, fit_plane

BLOCK_PX = 24
"""Blocks from which the best box is kept; a multiple of every box."""
BRIGHTEST_COUNTS_FOR = 0.1
"""Share of its brightest sample that counts in a box: a hot pixel then ranks under a star."""
CANDIDATES = 24
LEAST_SIGMA = 8.0
LEAST_BESIDE = 0.02
"""Light of the eight neighbours over that of the brightest sample: less is a hot pixel."""
LOOK_PX = 12
"""Half side of the patch in which a candidate is looked at."""


@dataclass(frozen=True)
class Found:
    """Where the star's brightest place is [px], or why there is none."""

    x_px: float | None
    y_px: float | None
    why: str = ""
    """A flag of spot.record.FLAGS when nothing was found."""


def find_star(frame: Frame, near: tuple[float, float] | None = None, reach_px: int = 60) -> Found:
    """Return the brightest compact light of the frame, or of the surroundings of a stated place.

    near: (x, y) [px]; only places up to reach_px from it count. Raises ValueError when it lies
    outside the frame.
    """
    if near is not None and not (0 <= near[0] < frame.width_px and 0 <= near[1] < frame.height_px):
        raise ValueError(
            f"the stated place ({near[0]:g}, {near[1]:g}) lies outside the frame of "
            f"{frame.width_px} x {frame.height_px} pixels; give x, y inside it"
        )
    score, row, column = _block_scores(frame)
    # The median over the blocks around is what the background's own best boxes reach there.
    above = score - median_filter(score, size=5, mode="nearest")
    if near is not None:
        far = np.hypot(column - near[0], row - near[1]) > reach_px
        above = np.where(far, -np.inf, above)
    hot_seen = False
    for index in np.argsort(above, axis=None)[::-1][:CANDIDATES]:
        if not np.isfinite(above.flat[index]):
            break
        place, hot = _look_closely(frame, int(column.flat[index]), int(row.flat[index]))
        if place is not None:
            return Found(*place)
        hot_seen |= hot
    return Found(None, None, "not a star" if hot_seen else "lost")


def _box(frame: Frame) -> int:
    return 3 if frame.pattern.shape[0] % 3 == 0 else 2


def _block_scores(
    frame: Frame,
) -> tuple[Floats, Ints64, Ints64]:
    samples = frame.samples if frame.samples.ndim == 2 else frame.samples[..., 1]
    p, q = frame.pattern.shape
    black = np.broadcast_to(frame.black, (p, q)) if frame.samples.ndim == 2 else frame.black[:, 1:2]
    score, row, column = _scan(samples, _box(frame), BLOCK_PX, BRIGHTEST_COUNTS_FOR)
    return score - float(np.mean(black)) * _box(frame) ** 2, row, column


@compiled
def _scan(samples, box, block, part):  # type: ignore[no-untyped-def]
    """Return score and place of the best box of each block; one pass over the samples."""
    rows, columns = samples.shape
    n_rows, n_columns = max(1, rows // block), max(1, columns // block)
    best = np.full((n_rows, n_columns), -1.0)
    row = np.zeros((n_rows, n_columns), dtype=np.int64)
    column = np.zeros((n_rows, n_columns), dtype=np.int64)
    for bi in range(n_rows):
        i_end = rows if bi == n_rows - 1 else (bi + 1) * block
        for bj in range(n_columns):
            j_end = columns if bj == n_columns - 1 else (bj + 1) * block
            top = -1.0
            for i in range(bi * block, i_end - box + 1, box):
                for j in range(bj * block, j_end - box + 1, box):
                    total = 0.0
                    high = 0.0
                    for a in range(box):
                        for b in range(box):
                            v = float(samples[i + a, j + b])
                            total += v
                            high = max(high, v)
                    total -= (1.0 - part) * high
                    if total > top:
                        top = total
                        row[bi, bj] = i
                        column[bi, bj] = j
            best[bi, bj] = top
    return best, row, column


def _look_closely(frame: Frame, x: int, y: int) -> tuple[tuple[float, float] | None, bool]:
    """Return the brightest place of a light that more than one sample shows, else None.

    The second value tells whether a lone sample stood there. Light is judged above the plane
    through the edge of a small patch: a slope or a broad glow is no star.
    """
    top, left = max(0, y - LOOK_PX), max(0, x - LOOK_PX)
    height = min(frame.height_px - top, 2 * LOOK_PX + 2)
    width = min(frame.width_px - left, 2 * LOOK_PX + 2)
    light = window(frame, top, left, height, width).astype(np.float64)
    if light.ndim == 3:
        light = light.sum(axis=2)
    edge = np.ones(light.shape, dtype=bool)
    edge[2:-2, 2:-2] = False
    row, column = np.nonzero(edge)
    rows, columns = np.arange(height)[:, None] - height / 2, np.arange(width)[None, :] - width / 2
    plane = fit_plane(columns[0, column], rows[row, 0], light[edge])
    net = light - (plane[0] + plane[1] * columns + plane[2] * rows)
    noise = max(MAD_TO_SIGMA * float(np.median(np.abs(net[edge]))), 0.5)
    padded = np.pad(net, 1)
    summed = sum(padded[i : i + height, j : j + width] for i in range(3) for j in range(3))
    i, j = np.unravel_index(int(np.argmax(summed)), net.shape)
    near = net[max(0, i - 1) : i + 2, max(0, j - 1) : j + 2]
    high = float(near.max())
    beside = float(near.sum()) - high
    # The light beside a hot pixel is noise; a star of any size lights its neighbours.
    if beside < max(LEAST_SIGMA * noise * np.sqrt(near.size - 1), LEAST_BESIDE * high):
        return None, high > 12 * noise
    return (float(left + j), float(top + i)), False
