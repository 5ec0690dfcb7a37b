"""The mean spot of a zone, for drawing and for trails."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from nightglass.optics.arrays import Floats, Floats32
from nightglass.spot.record import SpotImage

LARGEST_HALF_PX = 200
LEAST_CHANGE = 1e-4
"""Of a spot's width: less moves no number that is printed."""


def mean_stamp(
    images: Sequence[SpotImage],
    centres_px: Sequence[tuple[float, float]],
    apertures_px: Sequence[float],
) -> Floats32 | None:
    """Return the mean of rebuilt spots, centre of light at the central sample, sum 1.

    images: counts above background; centres_px: (x, y) centre of light of each, raw pixels;
    apertures_px: radius inside which its light counts, nothing is kept outside. The answer is
    (size, size), size odd. Each is moved by the fraction of a pixel with cubic convolution, which
    keeps its light, its centre and its second moments, where a Fourier shift of a narrow spot
    rings over the whole stamp and linear interpolation widens it. None if no image holds light.
    Source: Keys 1981, DOI 10.1109/TASSP.1981.1163711.
    """
    half = min(LARGEST_HALF_PX, math.ceil(max(apertures_px, default=0.0)) + 2)
    mean = np.zeros((2 * half + 1, 2 * half + 1))
    for image, (x, y), radius in zip(images, centres_px, apertures_px, strict=True):
        cut, offset = _cut(image, x, y, min(radius, half - 1), half)
        total = float(cut.sum())
        if total > 0:
            mean += _moved(cut / total, offset)
    light = float(mean.sum())
    return (mean / light).astype(np.float32) if light > 0 else None


def magnified(stamp: Floats32, times: float) -> Floats32:
    """Return a stamp (size, size) with its spot so many times as wide, its light unchanged.

    The size grows with it, so that nothing is cut; samples between those of the stamp by cubic
    convolution, as mean_stamp moves them.
    """
    if abs(times - 1) < LEAST_CHANGE:
        return stamp
    half = stamp.shape[0] // 2
    wide = math.ceil(half * max(times, 1.0))
    weights = _at(np.arange(-wide, wide + 1) / times, half)
    drawn = weights @ stamp.astype(np.float64) @ weights.T
    return (drawn / drawn.sum()).astype(np.float32)


def _at(places: Floats, half: int) -> Floats:
    """Weights (places, samples) of the samples -half to half at places between them."""
    away = np.abs(places[:, None] - np.arange(-half, half + 1))
    near = 1 + away**2 * (1.5 * away - 2.5)
    far = 2 + away * (-4 + away * (2.5 - 0.5 * away))
    weights: Floats = np.where(away <= 1, near, np.where(away < 2, far, 0.0))
    return weights


def _moved(cut: Floats, offset: tuple[float, float]) -> Floats:
    """The image with its light moved by -offset (x, y), each at most half a pixel."""
    across = _moved_left(cut, offset[0])
    return _moved_left(across.T, offset[1]).T


def _moved_left(cut: Floats, shift: float) -> Floats:
    base = math.floor(shift)
    f = shift - base
    weights = (
        f * (-0.5 + f * (1.0 - 0.5 * f)),
        1.0 + f * f * (-2.5 + 1.5 * f),
        f * (0.5 + f * (2.0 - 1.5 * f)),
        f * f * (-0.5 + 0.5 * f),
    )
    moved = np.zeros_like(cut)
    size = cut.shape[1]
    for step, weight in enumerate(weights, start=base - 1):
        low, high = max(0, -step), min(size, size - step)
        moved[:, low:high] += weight * cut[:, low + step : high + step]
    return moved


def _cut(
    image: SpotImage, x: float, y: float, radius: float, half: int
) -> tuple[Floats, tuple[float, float]]:
    """The light inside the aperture around the nearest sample, and the centre off that sample."""
    column, row = round(x), round(y)
    cut = np.zeros((2 * half + 1, 2 * half + 1))
    rows, columns = image.light.shape
    top, left = row - half - image.top_px, column - half - image.left_px
    r0, r1 = max(0, top), min(rows, top + cut.shape[0])
    c0, c1 = max(0, left), min(columns, left + cut.shape[1])
    if r1 > r0 and c1 > c0:
        cut[r0 - top : r1 - top, c0 - left : c1 - left] = image.light[r0:r1, c0:c1]
    offset = (x - column, y - row)
    yy, xx = np.indices(cut.shape, dtype=np.float64) - half
    cut[np.hypot(xx - offset[0], yy - offset[1]) > radius] = 0.0
    return cut, offset
