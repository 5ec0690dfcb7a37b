"""Land below a night sky: hills and tree tops, a lit tent, lamps."""

from __future__ import annotations

import math

import numpy as np

from nightglass.optics.arrays import Floats, Floats32
from nightglass.optics.compiled import compiled

LEAF_PX = 8
"""Side of the patches, light and dark, that trees and ground consist of."""


def ridge(rows: int, columns: int, share: float, rng: np.random.Generator) -> Floats:
    """Return the row below which land begins, per column; share: land's part of the frame."""
    across = np.arange(columns)
    if share <= 0:
        return np.full(columns, float(rows))
    top = rows * (1 - share) + 0.05 * rows * np.sin(across / 700 + rng.uniform(0, 6))
    knots = np.arange(0, columns + 60, 60)
    return top + np.interp(across, knots, rng.uniform(0, 0.04 * rows, size=knots.size))


def add_land(light: Floats32, top: Floats, rng: np.random.Generator) -> None:
    """Darken the light [counts] below the ridge to leaves and ground; add a tent and lamps."""
    rows, columns = light.shape
    if top.min() >= rows:
        return
    leaves = rng.uniform(0.03, 0.3, size=(rows // LEAF_PX + 1, columns // LEAF_PX + 1))
    tent = (rows * 0.9, columns * rng.uniform(0.2, 0.8))
    _cover(light, top, leaves.astype(np.float32), tent)
    for _ in range(12):
        y, x = int(rng.uniform(0.8, 0.99) * rows), int(rng.uniform(0, columns))
        if y > top[x]:
            light[max(y - 2, 0) : y + 3, max(x - 2, 0) : x + 3] += rng.uniform(300, 9000)


@compiled
def _cover(light, top, leaves, tent):  # type: ignore[no-untyped-def]
    rows, columns = light.shape
    across = np.empty(columns, dtype=np.float32)
    for u in range(columns):
        across[u] = math.exp(-0.5 * ((u - tent[1]) / 90) ** 2)
    for v in range(int(top.min()), rows):
        down = np.float32(6000 * math.exp(-0.5 * ((v - tent[0]) / 60) ** 2))
        for u in range(columns):
            if v > top[u]:
                light[v, u] = light[v, u] * leaves[v // LEAF_PX, u // LEAF_PX] + down * across[u]
