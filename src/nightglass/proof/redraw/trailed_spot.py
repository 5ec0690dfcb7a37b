"""A spot of 1 px steps drawn along trails and between the samples, by its spectrum."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike
from scipy.fft import irfft2, next_fast_len, rfft2

from nightglass.optics.arrays import Floats


class TrailedSpot:
    """A spot of 1 px steps, ready to be drawn along trails and between the samples."""

    def __init__(self, image: Floats, longest_trail_px: float) -> None:
        """image: (rows, columns), its light about the middle sample."""
        pad = math.ceil(longest_trail_px / 2) + 2
        self._shape = tuple(next_fast_len(side + 2 * pad, real=True) for side in image.shape)
        self._middle = tuple(side // 2 + pad for side in image.shape)
        room = [(pad, n - side - pad) for n, side in zip(self._shape, image.shape, strict=True)]
        self._spectrum = rfft2(np.pad(image, room))
        self._down = np.fft.fftfreq(self._shape[0])[:, None]
        self._right = np.fft.rfftfreq(self._shape[1])[None, :]

    def drawn(self, trail_px: ArrayLike, shift_px: ArrayLike) -> tuple[Floats, tuple[int, int]]:
        """Return the spot drawn evenly along a trail (x, y), moved by parts of a pixel (x, y), and
        the row and column of its middle. By the spectrum: nothing is smoothed."""
        tx, ty = (float(v) for v in np.asarray(trail_px))
        sx, sy = (float(v) for v in np.asarray(shift_px))
        moved = np.sinc(self._right * tx + self._down * ty)
        turned = np.exp(-2j * math.pi * self._right * sx) * np.exp(-2j * math.pi * self._down * sy)
        image = irfft2(self._spectrum * (moved * turned), self._shape)
        return np.asarray(image), (self._middle[0], self._middle[1])
