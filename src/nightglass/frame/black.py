"""Black and white levels of a raw file, per place of its pattern."""

from __future__ import annotations

import math

import numpy as np
import rawpy
from numpy.typing import NDArray

from nightglass.frame.tags import Directory
from nightglass.optics.arrays import Floats, Indices

BORDER_PX = 8
"""Narrower masked borders are too few samples, and their inner columns see stray light."""
BORDER_GUARD_PX = 2
BORDER_SPREAD = 0.02
"""A border whose places differ by more than this share of the range isn't dark."""


def mosaic_black(
    raw: rawpy.RawPy, pattern: NDArray[np.uint8], directory: Directory | None
) -> tuple[Floats, Floats, tuple[str, ...]]:
    """Return black and clipping level tiles of a mosaic [counts], and notes for the reader.

    A DNG says its black by place: the tag is read, because LibRaw hands 6x6 tables out as four
    equal numbers. Makers' 2x2 mosaics have it by colour code (second green is code 3). For
    makers' 6x6 mosaics LibRaw's four numbers are checked against the masked border. The tiles
    may be larger than the pattern: the file's black may repeat at another pace.
    """
    notes: tuple[str, ...] = ()
    if directory is not None:
        black = _dng_black(raw, pattern, directory)
    else:
        black = _black_by_code(raw, pattern)
        if pattern.shape == (6, 6) or not black.any():
            border = _border_black(raw, pattern)
            if border is not None:
                black, notes = border, ("black measured from the masked border",)
            elif pattern.shape == (6, 6):
                notes = ("black is one number for all colours in this file",)
    white = directory.white[0] if directory and directory.white else float(raw.white_level)
    clipping = np.full(pattern.shape, white)
    linear = raw.camera_white_level_per_channel
    if directory is None and linear is not None and pattern.shape == (2, 2):
        clipping = np.minimum(clipping, np.asarray(linear, dtype=np.float64)[_codes(raw, (2, 2))])
    return black, clipping, notes


def plane_black(raw: rawpy.RawPy, directory: Directory | None) -> tuple[Floats, Floats]:
    """Return black and clipping levels of three planes, both (1, 3) [counts]."""
    black = np.asarray(raw.black_level_per_channel[:3], dtype=np.float64)[None, :]
    white = np.full((1, 3), float(raw.white_level))
    if directory is not None:
        black = np.zeros((1, 3))
        if directory.black is not None:
            black = np.broadcast_to(
                directory.black if directory.black.size == 3 else directory.black.mean(), (1, 3)
            ).copy()
        if directory.white:
            white = np.resize(np.asarray(directory.white), (1, 3))
    return black, white


def _codes(raw: rawpy.RawPy, shape: tuple[int, int]) -> Indices:
    top, left = raw.sizes.top_margin, raw.sizes.left_margin
    return np.array(
        [[raw.raw_color(top + y, left + x) for x in range(shape[1])] for y in range(shape[0])],
        dtype=np.intp,
    )


def _black_by_code(raw: rawpy.RawPy, pattern: NDArray[np.uint8]) -> Floats:
    levels = np.asarray(raw.black_level_per_channel, dtype=np.float64)
    if pattern.shape == (1, 1):
        return levels[:1].reshape(1, 1)
    return levels[_codes(raw, (pattern.shape[0], pattern.shape[1]))]


def _dng_black(raw: rawpy.RawPy, pattern: NDArray[np.uint8], directory: Directory) -> Floats:
    """Turn the tag's tile, which starts at the active area, to the decoder's visible corner."""
    tile = directory.black if directory.black is not None else np.zeros((1, 1))
    area_top, area_left = (directory.active_area or (0, 0, 0, 0))[:2]
    rows = math.lcm(tile.shape[0], pattern.shape[0])
    columns = math.lcm(tile.shape[1], pattern.shape[1])
    down = raw.sizes.top_margin - area_top + np.arange(rows)
    right = raw.sizes.left_margin - area_left + np.arange(columns)
    return tile[(down % tile.shape[0])[:, None], right % tile.shape[1]]


def _border_black(raw: rawpy.RawPy, pattern: NDArray[np.uint8]) -> Floats | None:
    """Median of the masked border per colour, as a tile; None where there is no dark border."""
    top, left = raw.sizes.top_margin, raw.sizes.left_margin
    if left >= BORDER_PX:
        strip = raw.raw_image[top : top + raw.sizes.height, : left - BORDER_GUARD_PX]
        first = (0, -left)
    elif top >= BORDER_PX:
        strip = raw.raw_image[: top - BORDER_GUARD_PX, left : left + raw.sizes.width]
        first = (-top, 0)
    else:
        return None
    rows, columns = pattern.shape
    down = (first[0] + np.arange(strip.shape[0])) % rows
    right = (first[1] + np.arange(strip.shape[1])) % columns
    colours = pattern[down[:, None], right]
    medians = np.array([np.median(strip[colours == k]) for k in range(int(pattern.max()) + 1)])
    if np.ptp(medians) > BORDER_SPREAD * raw.white_level or medians.max() > raw.white_level / 4:
        return None
    return medians[pattern]
