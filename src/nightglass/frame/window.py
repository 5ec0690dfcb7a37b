"""Linear light of a frame, in windows: floats exist only where somebody measures."""

from __future__ import annotations

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from nightglass.frame.record import Frame
from nightglass.optics.arrays import Floats32

Number = TypeVar("Number", bound=np.generic)


def window(frame: Frame, top: int, left: int, height: int, width: int) -> Floats32:
    """Return counts above black, float32 (height, width) or (height, width, 3) for planes.

    top, left: first row and column in the visible raw area. Black is removed per place of the
    pattern, in float: noise below black stays negative. Raises ValueError for a window that
    leaves the frame.
    """
    _check_inside(frame, top, left, height, width)
    light = frame.samples[top : top + height, left : left + width].astype(np.float32)
    if light.ndim == 3:
        light -= frame.black.reshape(3).astype(np.float32)
        return light
    rows, columns = frame.black.shape
    if np.all(frame.black == frame.black[0, 0]):
        light -= np.float32(frame.black[0, 0])
        return light
    for row in range(rows):
        for column in range(columns):
            places = light[(row - top) % rows :: rows, (column - left) % columns :: columns]
            places -= np.float32(frame.black[row, column])
    return light


def colour_map(frame: Frame, top: int, left: int, height: int, width: int) -> NDArray[np.uint8]:
    """Return the colour number (0 red, 1 green, 2 blue) of each sample, uint8 (height, width).

    Raises ValueError for a window that leaves the frame, or for a frame of three planes, where
    every place has all colours.
    """
    if frame.samples.ndim == 3:
        raise ValueError(
            "the frame has three planes and no mosaic: take plane k of window() as colour k"
        )
    _check_inside(frame, top, left, height, width)
    return place_map(frame.pattern, top, left, height, width)


def place_map(
    tile: NDArray[Number], top: int, left: int, height: int, width: int
) -> NDArray[Number]:
    """Return a tile (pattern, black or clipping) repeated over a window, (height, width)."""
    rows = np.arange(top, top + height) % tile.shape[0]
    columns = np.arange(left, left + width) % tile.shape[1]
    return tile[rows[:, None], columns]


def _check_inside(frame: Frame, top: int, left: int, height: int, width: int) -> None:
    if (
        min(top, left) < 0
        or min(height, width) < 1
        or top + height > frame.height_px
        or left + width > frame.width_px
    ):
        raise ValueError(
            f"window top {top}, left {left}, height {height}, width {width} leaves the frame of "
            f"{frame.height_px} x {frame.width_px} px (rows x columns)"
        )
