"""Light on a sensor: photons to electrons to counts in a mosaic, with the noise of both."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import scipy.special
from numpy.typing import NDArray

from nightglass.optics.arrays import Counts, Floats, Floats32, Ints64

FINER = 256
"""Noise of the dark parts is drawn in this many parts of a count and then cut to whole counts."""
LEVELS = 65536
"""The dark noise is drawn from this many equally likely values of a normal distribution: it ends
at 4.3 sigma, which no measure of a spot can tell, and costs a tenth of drawing it exactly."""
ROWS_AT_ONCE = 64


@dataclass(frozen=True)
class Sensor:
    """A sensor at one ISO step; levels in counts of the raw file."""

    width_px: int
    height_px: int
    pitch_um: float
    pattern: NDArray[np.uint8]
    """Tile of colour numbers (0 red, 1 green, 2 blue) from the top-left pixel."""
    black: int
    clipping: int
    gain_e_per_count: float
    read_noise_e: float
    hot_pixels: int = 0
    hot_seed: int = 0
    """The same seed gives the same hot pixels: they belong to the sensor, not to the frame."""

    @property
    def full_scale_e(self) -> float:
        """Electrons between black and the clipping level."""
        return (self.clipping - self.black) * self.gain_e_per_count


@dataclass(frozen=True)
class Background:
    """Stray light [electrons per pixel]: a level at the middle and its change across the frame."""

    level_e: float = 0.0
    change_right_e: float = 0.0
    change_down_e: float = 0.0


@dataclass(frozen=True)
class Window:
    """Expected electrons of a light in a part of the frame.

    light_e: (rows, columns), already in the mosaic's colours (see `in_mosaic`).
    """

    light_e: Floats32
    left_px: int
    top_px: int


def in_mosaic(sensor: Sensor, by_colour: dict[int, Floats32], left_px: int, top_px: int) -> Window:
    """Return a window whose samples are taken from the colour that each pixel sees."""
    shape = next(iter(by_colour.values())).shape
    rows = (np.arange(shape[0]) + top_px) % sensor.pattern.shape[0]
    columns = (np.arange(shape[1]) + left_px) % sensor.pattern.shape[1]
    seen = sensor.pattern[rows[:, None], columns[None, :]]
    light = np.zeros(shape, dtype=np.float32)
    for colour, electrons in by_colour.items():
        light = np.where(seen == colour, electrons, light)
    return Window(light.astype(np.float32), left_px, top_px)


def expose(
    sensor: Sensor,
    windows: Sequence[Window],
    background: Background,
    rng: np.random.Generator,
) -> Counts:
    """Return a frame of counts, (rows, columns) uint16.

    Only the windows get photon noise pixel by pixel; the rest is dark and its noise is drawn in
    one pass (see LEVELS) with the spread of read noise and the mean background. Where windows
    overlap, their light adds. Windows may reach over the edge of the frame.
    """
    counts = _dark(sensor, background, rng)
    inside = [_clipped(sensor, window) for window in windows]
    parts = [part for part in inside if part.light_e.size]
    for part in parts:
        place = _place(part)
        expected = part.light_e + _plane_e(sensor, background, part)
        for other in parts:
            if other is not part:
                _add_overlap(expected, part, other)
        electrons = rng.poisson(np.maximum(expected, 0)).astype(np.float64)
        electrons += rng.normal(0.0, sensor.read_noise_e, expected.shape)
        values = np.rint(electrons / sensor.gain_e_per_count) + sensor.black
        counts[place] = np.clip(values, 0, sensor.clipping).astype(np.uint16)
    _add_hot_pixels(sensor, counts)
    return counts


def hot_places(sensor: Sensor) -> tuple[Ints64, Ints64, Floats]:
    """Return rows, columns and extra counts of the sensor's hot pixels."""
    rng = np.random.default_rng([sensor.hot_seed, 0x407])
    rows = rng.integers(0, sensor.height_px, sensor.hot_pixels)
    columns = rng.integers(0, sensor.width_px, sensor.hot_pixels)
    # Most are mild, a few stuck at the top: a long tail.
    extra = (sensor.clipping - sensor.black) * rng.pareto(1.2, sensor.hot_pixels) * 0.05
    return rows, columns, extra


def _dark(sensor: Sensor, background: Background, rng: np.random.Generator) -> Counts:
    gain = sensor.gain_e_per_count
    sigma = np.hypot(sensor.read_noise_e, np.sqrt(max(background.level_e, 0.0))) / gain
    quantiles = scipy.special.ndtri((np.arange(LEVELS) + 0.5) / LEVELS)
    table = np.rint(quantiles * sigma * FINER).astype(np.int32)
    right = (np.arange(sensor.width_px) / sensor.width_px - 0.5) * background.change_right_e
    down = (np.arange(sensor.height_px) / sensor.height_px - 0.5) * background.change_down_e
    # Half a count more, so that cutting to whole counts rounds.
    base = (sensor.black + 0.5 + background.level_e / gain) * FINER
    across = np.rint(right / gain * FINER + base).astype(np.int32)
    counts = np.empty((sensor.height_px, sensor.width_px), dtype=np.uint16)
    for top in range(0, sensor.height_px, ROWS_AT_ONCE):
        rows = counts[top : top + ROWS_AT_ONCE]
        draw = rng.integers(0, LEVELS, rows.shape, dtype=np.uint16)
        values = table[draw]
        values += across
        values += np.rint(down[top : top + len(rows), None] / gain * FINER).astype(np.int32)
        values >>= FINER.bit_length() - 1
        np.clip(values, 0, sensor.clipping, out=values)
        rows[:] = values
    return counts


def _plane_e(sensor: Sensor, background: Background, window: Window) -> Floats32:
    rows, columns = window.light_e.shape
    right = (np.arange(columns) + window.left_px) / sensor.width_px - 0.5
    down = (np.arange(rows) + window.top_px) / sensor.height_px - 0.5
    plane = (
        background.level_e
        + background.change_right_e * right[None, :]
        + background.change_down_e * down[:, None]
    )
    return plane.astype(np.float32)


def _place(window: Window) -> tuple[slice, slice]:
    rows, columns = window.light_e.shape
    return (
        slice(window.top_px, window.top_px + rows),
        slice(window.left_px, window.left_px + columns),
    )


def _clipped(sensor: Sensor, window: Window) -> Window:
    """Return the part of a window that lies inside the frame."""
    top, left = max(0, -window.top_px), max(0, -window.left_px)
    bottom, right = sensor.height_px - window.top_px, sensor.width_px - window.left_px
    part = window.light_e[top : max(bottom, 0), left : max(right, 0)]
    return Window(part, window.left_px + left, window.top_px + top)


def _add_overlap(expected: Floats32, part: Window, other: Window) -> None:
    rows, columns = expected.shape
    o_rows, o_columns = other.light_e.shape
    top = max(part.top_px, other.top_px)
    left = max(part.left_px, other.left_px)
    bottom = min(part.top_px + rows, other.top_px + o_rows)
    right = min(part.left_px + columns, other.left_px + o_columns)
    if top < bottom and left < right:
        expected[
            top - part.top_px : bottom - part.top_px, left - part.left_px : right - part.left_px
        ] += other.light_e[
            top - other.top_px : bottom - other.top_px,
            left - other.left_px : right - other.left_px,
        ]


def _add_hot_pixels(sensor: Sensor, counts: Counts) -> None:
    rows, columns, extra = hot_places(sensor)
    hot = counts[rows, columns] + extra
    counts[rows, columns] = np.minimum(hot, sensor.clipping).astype(np.uint16)
