"""What the photons of a star add to the noise of its samples, roughly and at once."""

from __future__ import annotations

import numpy as np

from nightglass.optics.arrays import Floats, Floats32
from nightglass.optics.extent import MAD_TO_SIGMA
from nightglass.sky.stars.background import SkyLevel

LEAST_VALUES = 30
MOST_TILES = 4000
"""More tell no more: they are taken evenly."""


def photon_variance(sky: SkyLevel) -> float:
    """Return the variance [counts^2] that one count of light brings; an upper bound where unknown.

    For the error bars of single stars, before any is known: the slope of the tiles' variance on
    their level, faint stars and all, which is a third too much in a rich field. sky.gain is
    right, and needs the stars. Where the level varies too little all noise is taken for that of
    the sky's light.
    """
    level, noise = sky.level.reshape(-1, 3), sky.noise.reshape(-1, 3)
    slope = _slope(level, noise)
    bound = float(np.nanmedian(noise**2 / np.maximum(level, noise**2 / 4)))
    return bound if slope is None else min(slope, bound)


def _slope(level: Floats32, noise: Floats32) -> float | None:
    thinned = slice(None, None, max(1, len(level) // MOST_TILES))
    levels = np.asarray(level[thinned], dtype=np.float64)
    variances = np.asarray(noise[thinned], dtype=np.float64) ** 2
    values, variance = levels.reshape(-1), variances.reshape(-1)
    good = np.isfinite(values) & np.isfinite(variance) & (values > 0)
    values, variance = values[good], variance[good]
    if values.size < LEAST_VALUES:
        return None
    low, high = np.percentile(values, [5, 95])
    if high < 1.5 * low:
        return None
    slope, base = _start(levels, variances, values, variance)
    for _ in range(5):
        miss = (variance - base - slope * values) / np.maximum(variance, 1e-9)
        keep = np.abs(miss) < 3 * MAD_TO_SIGMA * float(np.median(np.abs(miss))) + 1e-6
        slope, base = (float(v) for v in np.polyfit(values[keep], variance[keep], 1))
    return slope if slope > 0 else None


def _start(
    levels: Floats, variances: Floats, values: Floats, variance: Floats
) -> tuple[float, float]:
    """First line: through the colours' medians, as land at the rim of open sky lies off it."""
    some = np.isfinite(levels).all(axis=0)
    x, y = np.median(levels[:, some], axis=0), np.median(variances[:, some], axis=0)
    if not some.any() or np.ptp(x) < 0.2 * float(np.max(x)):
        x, y = values, variance
    slope, base = np.polyfit(x, y, 1)
    return float(slope), float(base)
