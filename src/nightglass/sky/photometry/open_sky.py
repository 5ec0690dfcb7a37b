"""Which of the catalogue's stars a frame shows, and so which parts of it are open sky."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from nightglass.optics.arrays import Flags, Floats, Indices
from nightglass.optics.extent import MAD_TO_SIGMA
from nightglass.sky.astrometry.refine import Solution, catalogue_vectors, stars_in_frame
from nightglass.sky.stars.find import Detections

LEAST_STARS = 12
"""Fewer stars give no median worth a number: its error would be 0.36 of their scatter."""
CELL_PX = 400
"""Side of the squares that are told open or not: a dozen bright stars each through a wide lens."""
NOT_ITS_LIGHT = 0.35
"""A star this much under the SNR it ought to have is another one, or noise."""
OPEN_SHARE = 0.6
"""Share of a cell's well visible stars that must be found for the cell to count as open sky."""


@dataclass(frozen=True)
class Hits:
    """Catalogue stars in frame to G 10: places, magnitudes, and the found star of each or -1."""

    x: Floats
    y: Floats
    magnitude: Floats
    star: Indices
    limit: float | None
    """Magnitude at which SNR is 5 by the stars' own line."""
    limit_err: float


def hits_of(found: Detections, solution: Solution) -> Hits:
    """Return the catalogue stars of a frame to G 10 and the found star of each."""
    index, x, y = stars_in_frame(solution.camera, solution.rotation, 10.0)
    magnitude = catalogue_vectors()[1][index]
    stars = found.stars
    tolerance = max(2.0, 4 * solution.rms_px)
    tree = cKDTree(np.column_stack([stars.x_px, stars.y_px]))
    answer = tree.query(np.column_stack([x, y]), distance_upper_bound=tolerance)
    star = np.where(np.isfinite(answer[0]), np.asarray(answer[1]), -1)
    snr = np.where(star >= 0, stars.snr[np.maximum(star, 0)], 0.0)
    limit, err = _snr_line(magnitude, snr)
    if limit is not None:
        # A lamp or a noise peak near the place of a star is not as bright as the star ought to be.
        ought = np.minimum(5 * 10 ** (0.4 * (limit - magnitude)), 60.0)
        star = np.where(snr > NOT_ITS_LIGHT * ought, star, -1)
    return Hits(x, y, magnitude, star.astype(np.intp), limit, err)


def _snr_line(magnitude: Floats, snr: Floats) -> tuple[float | None, float]:
    """Magnitude at which SNR is 5, and its error; snr: 0 where no star was found.

    Against the sky's noise SNR falls by 0.4 dex per magnitude: only the height is fitted.
    """
    height = magnitude + 2.5 * np.log10(np.maximum(snr, 1e-3) / 5.0)
    used = (snr > 10) & (snr < 60)
    limit, scatter = 0.0, 0.0
    for _ in range(4):
        if np.count_nonzero(used) < LEAST_STARS:
            return None, math.inf
        limit = float(np.median(height[used]))
        scatter = MAD_TO_SIGMA * float(np.median(np.abs(height[used] - limit)))
        # Chosen by what they ought to have: among the faint those alone had SNR 10 that a
        # neighbour or noise lifts.
        used = (snr > 0) & (magnitude > limit - 2.7) & (magnitude < limit - 1.0)
    # Star colours differ over the sky, so the mean does not sharpen for ever.
    return limit, math.hypot(scatter / math.sqrt(float(np.count_nonzero(used))), 0.05)


def open_cells_of(hits: Hits, solution: Solution) -> Flags:
    """Return the cells of the frame in which catalogue stars that ought to be seen are seen."""
    camera = solution.camera
    rows = math.ceil(camera.height_px / CELL_PX)
    columns = math.ceil(camera.width_px / CELL_PX)
    if hits.limit is None:
        return np.ones((rows, columns), dtype=bool)
    expected, seen = np.zeros((rows, columns)), np.zeros((rows, columns))
    # In a crowded field faint stars hide each other: a dozen bright ones a cell say enough.
    order = np.argsort(hits.magnitude, kind="stable")
    deepest = float(hits.magnitude[order[min(12 * rows * columns, order.size - 1)]])
    bright = hits.magnitude < min(hits.limit - 1.0, deepest)
    cell_y = np.clip(hits.y / CELL_PX, 0, rows - 1).astype(int)
    cell_x = np.clip(hits.x / CELL_PX, 0, columns - 1).astype(int)
    np.add.at(expected, (cell_y[bright], cell_x[bright]), 1)
    hit = bright & (hits.star >= 0)
    np.add.at(seen, (cell_y[hit], cell_x[hit]), 1)
    # Cells with few stars are judged with their neighbours.
    wide_expected, wide_seen = _boxes(expected), _boxes(seen)
    enough = expected >= 4
    share = np.where(enough, seen, wide_seen) / np.maximum(
        np.where(enough, expected, wide_expected), 1
    )
    return np.asarray(share >= OPEN_SHARE)


def _boxes(counts: Floats) -> Floats:
    padded = np.pad(counts, 1)
    rows, columns = counts.shape
    shifted = [padded[i : i + rows, j : j + columns] for i in range(3) for j in range(3)]
    return np.asarray(np.sum(shifted, axis=0))


def in_open(open_cells: Flags, x: Floats, y: Floats) -> Flags:
    """Return which places lie in open cells."""
    row = np.clip((y / CELL_PX).astype(int), 0, open_cells.shape[0] - 1)
    column = np.clip((x / CELL_PX).astype(int), 0, open_cells.shape[1] - 1)
    return open_cells[row, column]
