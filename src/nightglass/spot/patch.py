"""The part of a frame around a spot: samples above black, colours, clipping, background."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nightglass.frame.record import Frame
from nightglass.frame.window import window
from nightglass.optics.arrays import Flags, Floats, Ints64
from nightglass.optics.extent import MAD_TO_SIGMA, RING_INNER, RING_OUTER, fit_plane

ENOUGH_SAMPLES = 3000
"""Samples of one colour in a ring from which its plane is known to a fiftieth of the noise."""


@dataclass(frozen=True)
class Patch:
    """A window of the frame; arrays are (rows, columns), (top_px, left_px) its first sample."""

    light: Floats
    """Counts above black, background still in it; places outside the frame hold NaN."""
    colour: NDArray[np.uint8]
    places: Ints64
    pattern: NDArray[np.uint8]
    clipped: Flags
    top_px: int
    left_px: int


@dataclass(frozen=True)
class Background:
    """Plane and noise of each colour in the ring around a spot (index = colour number)."""

    planes: tuple[tuple[float, float, float], ...]
    """Level and slopes per px, from the centre of the spot."""
    noise: Floats
    """(3,) standard deviation of one sample [counts]."""
    level_err: Floats
    """(3,) error of the level [counts]."""
    crowded: bool


def cut(frame: Frame, x_px: float, y_px: float, half_px: int, plane: int | None = None) -> Patch:
    """Return the square patch of 2 half_px + 1 samples around a place; NaN outside the frame.

    plane: which plane of a three-plane frame; its samples are then all of one colour.
    """
    side = 2 * half_px + 1
    top, left = round(y_px) - half_px, round(x_px) - half_px
    first, left_in = max(top, 0), max(left, 0)
    last, right_in = min(top + side, frame.height_px), min(left + side, frame.width_px)
    inside = (slice(first - top, last - top), slice(left_in - left, right_in - left))
    light = np.full((side, side), np.nan)
    if last <= first or right_in <= left_in:
        raise ValueError(f"({x_px:.0f}, {y_px:.0f}) lies outside the frame; give a place inside it")
    seen = window(frame, first, left_in, last - first, right_in - left_in)
    light[inside] = seen if plane is None else seen[..., plane]
    rows, columns = np.arange(top, top + side), np.arange(left, left + side)
    p, q = frame.pattern.shape
    places = (rows % p)[:, None] * q + (columns % q)[None, :]
    pattern = frame.pattern if plane is None else np.full((p, q), plane, dtype=np.uint8)
    range_of = (frame.clipping - frame.black).ravel()
    limit = range_of[places] if plane is None else np.full(places.shape, range_of[plane])
    clipped = np.nan_to_num(light, nan=0.0) >= limit - 0.5
    return Patch(light, pattern.ravel()[places], places, pattern, clipped, top, left)


def offsets(patch: Patch, x_px: float, y_px: float) -> tuple[Floats, Floats]:
    """Return columns (1, n) and rows (n, 1) of a patch from a place [px]."""
    rows, columns = patch.light.shape
    dx: Floats = np.arange(columns, dtype=np.float64)[None, :] + (patch.left_px - x_px)
    dy: Floats = np.arange(rows, dtype=np.float64)[:, None] + (patch.top_px - y_px)
    return dx, dy


def inner(patch: Patch, x_px: float, y_px: float, half_px: int) -> Patch:
    """Return the part of a patch within half_px samples of a place, as far as it reaches."""
    row, column = round(y_px) - patch.top_px, round(x_px) - patch.left_px
    top, left = max(row - half_px, 0), max(column - half_px, 0)
    part = (slice(top, row + half_px + 1), slice(left, column + half_px + 1))
    return Patch(
        patch.light[part],
        patch.colour[part],
        patch.places[part],
        patch.pattern,
        patch.clipped[part],
        patch.top_px + top,
        patch.left_px + left,
    )


def background(patch: Patch, x_px: float, y_px: float, radius_px: float) -> Background:
    """Return planes and noise of every colour in the ring from 1.2 to 2 radii."""
    dx, dy = offsets(patch, x_px, y_px)
    apart = np.hypot(dx, dy)
    ring = (apart >= RING_INNER * radius_px) & (apart <= RING_OUTER * radius_px)
    ring &= np.isfinite(patch.light)
    planes, noise, level_err, crowd = [], np.zeros(3), np.zeros(3), 0
    for c in range(3):
        use = ring & (patch.colour == c)
        n = int(np.count_nonzero(use))
        if n < 12:
            planes.append((0.0, 0.0, 0.0))
            continue
        thin = 1 + n // ENOUGH_SAMPLES
        row, column = (index[::thin] for index in np.nonzero(use))
        x, y, light = dx[0, column], dy[row, 0], patch.light[row, column]
        plane = fit_plane(x, y, light)
        left = light - (plane[0] + plane[1] * x + plane[2] * y)
        # A quarter of a count: the finest step that a decoder's whole numbers can hide.
        noise[c] = max(MAD_TO_SIGMA * float(np.median(np.abs(left))), 0.25)
        level_err[c] = noise[c] / math.sqrt(row.size)
        crowd += thin * int(np.count_nonzero(left > 8 * noise[c]))
        planes.append(plane)
    return Background(tuple(planes), noise, level_err, crowd >= 12)


def above_background(patch: Patch, ground: Background, x_px: float, y_px: float) -> Floats:
    """Return the patch's light less each colour's plane; 0 outside the frame."""
    dx, dy = offsets(patch, x_px, y_px)
    planes = np.array(ground.planes)[patch.colour]
    net = patch.light - (planes[..., 0] + planes[..., 1] * dx + planes[..., 2] * dy)
    return np.nan_to_num(net, nan=0.0)


def without_hot_pixels(
    net: Floats, noise: Floats, patch: Patch, ratio: Floats
) -> tuple[Floats, int]:
    """Return the light with lone bright samples replaced by their neighbours, and how many.

    A sample is hot where it stands above four times the brightest of its eight neighbours (all
    scaled to one colour) and 12 sigma above background, unless it lies at the brightest place of
    the smoothed spot: a star's own nucleus is no hot pixel.
    """
    scaled = net / ratio[patch.colour]
    sigma = noise[patch.colour] / ratio[patch.colour]
    around = _shifted_stack(scaled)
    highest = around.max(axis=0)
    lone = (scaled > 4 * np.maximum(highest, 0)) & (scaled > 12 * sigma)
    core = np.unravel_index(np.argmax(around.sum(axis=0) + scaled), scaled.shape)
    rows, columns = np.indices(scaled.shape)
    lone &= np.hypot(rows - core[0], columns - core[1]) > 2.0
    fixed = scaled.copy()
    fixed[lone] = np.median(around[:, lone], axis=0)
    return fixed * ratio[patch.colour], int(np.count_nonzero(lone))


def _shifted_stack(values: Floats) -> Floats:
    padded = np.pad(values, 1, mode="edge")
    h, w = values.shape
    return np.stack(
        [padded[i : i + h, j : j + w] for i in range(3) for j in range(3) if (i, j) != (1, 1)]
    )
