"""A square of a frame about a place: its samples, and a sky like its own under drawn light."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from nightglass.frame.record import Frame
from nightglass.optics.arrays import Flags, Floats, Floats32
from nightglass.proof.sight import Sight
from nightglass.sky.stars.background import level_at, noise_at

SKY_STEP_PX = 16

Box = tuple[int, int, int, int]
"""Top, bottom, left, right of the square: first sample and last + 1."""


def box_about(frame: Frame, at_px: tuple[float, float], half_side_px: float) -> Box:
    """Return the square about a place (x, y), as far as it lies in the frame.

    It begins a whole number of patterns from the frame's first sample, so that the mosaic stays.
    """
    p, q = frame.pattern.shape
    top = max(int(at_px[1] - half_side_px) // p * p, 0)
    left = max(int(at_px[0] - half_side_px) // q * q, 0)
    bottom = min(math.ceil(at_px[1] + half_side_px), frame.height_px)
    return top, bottom, left, min(math.ceil(at_px[0] + half_side_px), frame.width_px)


def in_box(x_px: Floats, y_px: Floats, box: Box, room_px: Floats | float) -> Flags:
    """Return which places lie in a square, farther from its sides than room_px."""
    top, bottom, left, right = box
    return np.asarray(
        (x_px > left + room_px)
        & (x_px < right - room_px)
        & (y_px > top + room_px)
        & (y_px < bottom - room_px)
    )


def cut_square(frame: Frame, box: Box) -> Frame:
    """Return the square as a frame of its own."""
    top, bottom, left, right = box
    return replace(frame, samples=frame.samples[top:bottom, left:right].copy())


def colours_in(frame: Frame, box: Box) -> NDArray[np.uint8]:
    """Return the colour of each sample of a square."""
    p, q = frame.pattern.shape
    v, u = np.mgrid[box[0] : box[1], box[2] : box[3]]
    return np.asarray(frame.pattern[v % p, u % q])


def square_under_sky(sight: Sight, light: Floats, box: Box, rng: np.random.Generator) -> Frame:
    """Return a frame of a square: its own sky, and fresh noise, with other light on it.

    light: counts of each sample, shape of the square.
    """
    frame = sight.frame
    p, q = frame.pattern.shape
    v, u = np.mgrid[box[0] : box[1], box[2] : box[3]]
    colour = colours_in(frame, box)
    level, noise = (_per_sample(sight, box, colour, of) for of in (level_at, noise_at))
    if sight.e_per_count is None:
        share = noise**2 / np.maximum(level, noise**2 / 4)
    else:
        share = np.full(light.shape, 1 / sight.e_per_count)
    deviation = np.sqrt(noise**2 + share * np.maximum(light, 0))
    black = np.broadcast_to(frame.black, frame.pattern.shape)[v % p, u % q]
    clipping = np.broadcast_to(frame.clipping, frame.pattern.shape)[v % p, u % q]
    counts = black + level + light + rng.standard_normal(light.shape) * deviation
    if np.issubdtype(frame.samples.dtype, np.integer):
        counts = np.rint(counts)
    return Frame(
        samples=np.clip(counts, 0, clipping).astype(frame.samples.dtype),
        pattern=frame.pattern,
        black=frame.black,
        clipping=frame.clipping,
        kind=frame.kind,
        file=f"{frame.file}, redrawn",
    )


def _per_sample(
    sight: Sight, box: Box, colour: NDArray[np.uint8], of: Callable[..., Floats32]
) -> Floats:
    """Level or noise of the sky under each sample of the square, in steps of SKY_STEP_PX."""
    top, bottom, left, right = box
    y, x = np.arange(top, bottom, SKY_STEP_PX), np.arange(left, right, SKY_STEP_PX)
    grid_x, grid_y = np.meshgrid(x + SKY_STEP_PX / 2, y + SKY_STEP_PX / 2)
    values = of(sight.found.sky, grid_x.ravel(), grid_y.ravel()).reshape(y.size, x.size, 3)
    rows, columns = np.indices(colour.shape)
    return values[rows // SKY_STEP_PX, columns // SKY_STEP_PX, colour].astype(np.float64)
