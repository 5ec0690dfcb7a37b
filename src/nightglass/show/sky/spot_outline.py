"""Outlines of a fitted spot: lines of equal light that hold stated shares of it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import map_coordinates

from nightglass.optics.arrays import Floats

DIRECTIONS = 96
STEP = 0.5
"""Of a sample, along each direction."""


def share_level(image: NDArray[np.floating], share: float) -> float:
    """Return the brightness above which a share of the light lies; 0 < share < 1.

    Raises ValueError for other shares and for an image without light.
    """
    if not 0 < share < 1:
        raise ValueError(f"share is {share:g}; it lies between 0 and 1")
    values = np.sort(np.maximum(np.asarray(image, dtype=np.float64), 0).ravel())[::-1]
    total = np.cumsum(values)
    if not total[-1] > 0:
        raise ValueError("the image holds no light: no outline can be drawn")
    return float(values[int(np.searchsorted(total, share * total[-1]))])


def outline(image: NDArray[np.floating], share: float, per_px: float) -> Floats:
    """Return the outline (n, 2) that holds a share of a spot's light: (x, y) [px] from the middle.

    image: (rows, columns) of equal odd sides, per_px samples a pixel. In every direction from the
    centre of light the farthest place of that brightness is taken, so that spikes are kept and
    holes are not drawn.
    """
    light = np.maximum(np.asarray(image, dtype=np.float64), 0)
    level = share_level(light, share)
    rows, columns = np.indices(light.shape)
    inside = np.where(light >= level, light, 0.0)
    y0, x0 = (float((k * inside).sum() / inside.sum()) for k in (rows, columns))
    middle = light.shape[0] // 2
    along = np.arange(0, np.hypot(*light.shape) / 2, STEP)
    turn = np.linspace(0, 2 * np.pi, DIRECTIONS, endpoint=False)
    dx, dy = np.cos(turn)[:, None], np.sin(turn)[:, None]
    seen = map_coordinates(light, [y0 + along * dy, x0 + along * dx], order=1)
    over = seen >= level
    last = np.where(over.any(axis=1), along.size - 1 - np.argmax(over[:, ::-1], axis=1), 0)
    here, beyond = (
        np.take_along_axis(seen, np.minimum(k, along.size - 1)[:, None], axis=1)[:, 0]
        for k in (last, last + 1)
    )
    part = np.zeros(DIRECTIONS)
    crossed = (last + 1 < along.size) & (here > level)
    np.divide(here - level, here - beyond, out=part, where=crossed)
    radius = (along[last] + STEP * part)[:, None]
    return np.hstack([x0 + radius * dx - middle, y0 + radius * dy - middle]) / per_px
