"""The light of the night sky between the stars, and what the sensor makes of all light."""

from __future__ import annotations

import math

import numpy as np

from nightglass.optics.arrays import Counts, Floats32

RGGB = ((0, 1), (1, 2))
"""Colour numbers of the mosaic: 0 red, 1 green, 2 blue."""


def sky_light(rows: int, columns: int, counts: tuple[float, float, float], glow: float) -> Floats32:
    """Return the sky's counts (rows, columns) in the RGGB mosaic.

    counts: red, green, blue in the middle; glow: share by which the bottom is brighter than the
    top.
    """
    light = np.empty((rows, columns), dtype=np.float32)
    lean = (1 + glow * (np.arange(rows) / rows - 0.5)).astype(np.float32)
    for y in range(2):
        for x in range(2):
            light[y::2, x::2] = np.float32(counts[RGGB[y][x]]) * lean[y::2, None]
    return light


def add_satellites(light: Floats32, count: int, rng: np.random.Generator) -> None:
    """Draw straight trails, three pixels wide, 40 counts on the line and 20 beside it."""
    rows, columns = light.shape
    for _ in range(count):
        x0, y0 = rng.uniform(0, columns), rng.uniform(0, rows * 0.6)
        turn = rng.uniform(0, 2 * math.pi)
        along = np.arange(0, rng.uniform(0.2, 0.6) * columns, 0.5)
        x = np.rint(x0 + along * math.cos(turn)).astype(int)
        y = np.rint(y0 + along * math.sin(turn)).astype(int)
        ok = (x >= 1) & (x < columns - 1) & (y >= 1) & (y < rows - 1)
        for dy in (-1, 0, 1):
            np.add.at(light, (y[ok] + dy, x[ok]), np.float32(20.0 if dy else 40.0))


def add_aircraft(light: Floats32, count: int, rng: np.random.Generator) -> None:
    """Draw rows of bright dots, two lamps side by side that blink while the craft flies on."""
    rows, columns = light.shape
    for _ in range(count):
        x0, y0 = rng.uniform(0, columns), rng.uniform(0, rows * 0.5)
        turn, step = rng.uniform(0, 2 * math.pi), rng.uniform(0.015, 0.03) * columns
        strength = rng.uniform(1000, 8000)
        for k in range(40):
            for side in (-4.0, 4.0):
                x = round(x0 + k * step * math.cos(turn) - side * math.sin(turn))
                y = round(y0 + k * step * math.sin(turn) + side * math.cos(turn))
                if 2 <= x < columns - 2 and 2 <= y < rows - 2:
                    light[y - 1 : y + 2, x - 1 : x + 2] += np.float32(strength / 9)


def exposed(
    light: Floats32,
    gain_e_per_count: float,
    read_noise_counts: float,
    hot_pixels: int,
    levels: tuple[int, int],
    rng: np.random.Generator,
) -> Counts:
    """Return the samples of a light [counts]: photon and read noise, hot pixels, black, clipping.

    levels: black and clipping. The light's own array is used up.
    """
    black, clipping = levels
    variance = light / np.float32(gain_e_per_count) + np.float32(read_noise_counts**2)
    noise = rng.standard_normal(light.shape, dtype=np.float32)
    noise *= np.sqrt(variance, out=variance)
    light += noise
    light += black
    hot = rng.integers(0, light.size, size=hot_pixels)
    light.flat[hot] += rng.exponential(800, size=hot.size).astype(np.float32) + 60
    np.rint(light, out=light)
    return np.clip(light, 0, clipping, out=light).astype(np.uint16)
