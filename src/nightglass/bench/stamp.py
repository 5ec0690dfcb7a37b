"""The mean spot of a zone, for drawing and for trails."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from nightglass.spot.record import SpotImage

Stamp = NDArray[np.float32]
LARGEST_HALF_PX = 200


def mean_stamp(
    images: Sequence[SpotImage],
    centres_px: Sequence[tuple[float, float]],
    apertures_px: Sequence[float],
) -> Stamp | None:
    """Return the mean of rebuilt spots, centre of light at the central sample, sum 1.

    images: counts above background; centres_px: (x, y) centre of light of each, raw pixels;
    apertures_px: radius inside which its light counts, nothing is kept outside. The answer is
    (size, size), size odd. Each is moved by the fraction of a pixel in Fourier space, which
    keeps its light and its width, where interpolation would widen it. None if no image holds
    light.
    """
    half = min(LARGEST_HALF_PX, math.ceil(max(apertures_px, default=0.0)) + 2)
    cuts, offsets = [], []
    for image, (x, y), radius in zip(images, centres_px, apertures_px, strict=True):
        cut, offset = _cut(image, x, y, min(radius, half - 1), half)
        total = float(cut.sum())
        if total > 0:
            cuts.append(cut / total)
            offsets.append(offset)
    if not cuts:
        return None
    size = 2 * half + 1
    fx, fy = np.fft.rfftfreq(size), np.fft.fftfreq(size)
    dx, dy = (np.array(offsets)[:, k, None, None] for k in (0, 1))
    phase = np.exp(2j * np.pi * (fx[None, None, :] * dx + fy[None, :, None] * dy))
    spectrum = (np.fft.rfft2(np.stack(cuts)) * phase).mean(axis=0)
    mean = np.fft.irfft2(spectrum, s=(size, size))
    return (mean / mean.sum()).astype(np.float32)


def _cut(
    image: SpotImage, x: float, y: float, radius: float, half: int
) -> tuple[NDArray[np.float64], tuple[float, float]]:
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
