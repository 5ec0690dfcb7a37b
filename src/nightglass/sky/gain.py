"""Gain and read noise of a frame, from how its sky's noise grows with its level."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from nightglass.sky.skylevel import SkyLevel

Array = NDArray[np.float64]
Array32 = NDArray[np.float32]

LEAST_VALUES = 30
MOST_TILES = 4000
"""More tell no more: they are taken evenly."""


def gain_and_read_noise(
    level: Array32, noise: Array32
) -> tuple[float | None, float | None, str | None]:
    """Return gain [electrons per count], read noise [counts] and, where unknown, the reason.

    level, noise: (tiles, 3) counts above black and of single samples, all colours together.
    """
    thinned = slice(None, None, max(1, len(level) // MOST_TILES))
    levels = np.asarray(level[thinned], dtype=np.float64)
    variances = np.asarray(noise[thinned], dtype=np.float64) ** 2
    values, variance = levels.reshape(-1), variances.reshape(-1)
    good = np.isfinite(values) & np.isfinite(variance) & (values > 0)
    values, variance = values[good], variance[good]
    flat = "the sky's level varies too little to tell gain and read noise"
    if values.size < LEAST_VALUES:
        return None, None, flat
    low, high = np.percentile(values, [5, 95])
    if high < 1.5 * low:
        return None, None, flat
    slope, base = _line(values, variance, *_start(levels, variances, values, variance))
    if not slope > 0:
        return None, None, "noise does not grow with the sky: the file is not linear raw"
    return 1 / slope, math.sqrt(max(base, 0.0)), None


def photon_variance(sky: SkyLevel) -> float:
    """Return the variance [counts^2] that one count of light brings; an upper bound where unknown.

    Where gain and read noise can't be told apart all noise is taken for that of the sky's light.
    """
    level, noise = sky.level.reshape(-1, 3), sky.noise.reshape(-1, 3)
    gain, _, _ = gain_and_read_noise(level, noise)
    bound = float(np.nanmedian(noise**2 / np.maximum(level, noise**2 / 4)))
    return bound if gain is None else min(1 / gain, bound)


def _start(levels: Array, variances: Array, values: Array, variance: Array) -> tuple[float, float]:
    """First line: through the colours' medians, as land at the rim of open sky lies off it."""
    some = np.isfinite(levels).all(axis=0)
    x, y = np.median(levels[:, some], axis=0), np.median(variances[:, some], axis=0)
    if not some.any() or np.ptp(x) < 0.2 * float(np.max(x)):
        x, y = values, variance
    slope, base = np.polyfit(x, y, 1)
    return float(slope), float(base)


def _line(values: Array, variance: Array, slope: float, base: float) -> tuple[float, float]:
    for _ in range(5):
        miss = (variance - base - slope * values) / np.maximum(variance, 1e-9)
        keep = np.abs(miss) < 3 * 1.4826 * float(np.median(np.abs(miss))) + 1e-6
        fitted = np.polyfit(values[keep], variance[keep], 1)
        slope, base = float(fitted[0]), float(fitted[1])
    return slope, base
