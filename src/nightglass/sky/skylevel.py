"""The sky's level and noise per colour and tile of a mosaic, and the mosaic in units of noise."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter

from nightglass.frame.record import Frame
from nightglass.optics.compiled import compiled

Array32 = NDArray[np.float32]

TILE_PX = 64
"""Side of a tile: 1,024 samples of the rarest Bayer colour, so that a level is known to 4 % of
the noise, and small beside the changes of a sky."""


@dataclass(frozen=True)
class SkyLevel:
    """Level above black and noise of single samples [counts], (tile rows, tile columns, 3).

    The third axis is the colour number; colours that the mosaic lacks hold nan.
    """

    level: Array32
    noise: Array32
    tile_px: int = TILE_PX


def sky_level(frame: Frame) -> SkyLevel:
    """Return the sky's level and noise of a one-plane frame, stars cut off.

    Each tile: median and quartile, then twice the mean and deviation of what lies within 2.5
    deviations; then the median over 3 x 3 tiles, so that a planet or a tent spoils no sky.
    Raises ValueError for a frame with three planes.
    """
    if frame.samples.ndim != 2:
        raise ValueError(
            f"{frame.file or 'the frame'} has three planes; stars are looked for in a mosaic or "
            "a grey picture"
        )
    level, noise = _tiles(frame.samples, frame.pattern, TILE_PX)
    black = _black_per_colour(frame)
    smooth = np.empty_like(level)
    smooth_noise = np.empty_like(noise)
    for colour in range(3):
        smooth[..., colour] = median_filter(level[..., colour], size=3, mode="nearest")
        smooth_noise[..., colour] = median_filter(noise[..., colour], size=3, mode="nearest")
    return SkyLevel(level=smooth - black, noise=smooth_noise)


def in_noise_units(frame: Frame, sky: SkyLevel) -> Array32:
    """Return the samples above the sky over the noise, (rows, columns) float32."""
    # The tiles measured raw counts; black differs by place in the pattern and is added back.
    black = _black_per_colour(frame)
    return _normalised(frame.samples, frame.pattern, sky.level + black, sky.noise, sky.tile_px)


def noise_at(sky: SkyLevel, x_px: NDArray[np.float64], y_px: NDArray[np.float64]) -> Array32:
    """Return the noise [counts] per colour, (n, 3), of the tiles in which places lie."""
    return sky.noise[_tile_index(sky, y_px, 0), _tile_index(sky, x_px, 1)]


def level_at(sky: SkyLevel, x_px: NDArray[np.float64], y_px: NDArray[np.float64]) -> Array32:
    """Return the level above black [counts] per colour, (n, 3), of the tiles of places."""
    return sky.level[_tile_index(sky, y_px, 0), _tile_index(sky, x_px, 1)]


def _tile_index(sky: SkyLevel, place: NDArray[np.float64], axis: int) -> NDArray[np.intp]:
    index = np.asarray(place / sky.tile_px, dtype=np.intp)
    return np.clip(index, 0, sky.level.shape[axis] - 1)


def _black_per_colour(frame: Frame) -> Array32:
    """Mean black of each colour; places of one colour differ by fractions of the noise."""
    black = np.full(3, np.nan, dtype=np.float32)
    for colour in range(3):
        chosen = frame.pattern == colour
        if np.any(chosen):
            black[colour] = np.broadcast_to(frame.black, frame.pattern.shape)[chosen].mean()
    return black


@compiled
def _tiles(samples, pattern, tile):  # type: ignore[no-untyped-def]
    rows, columns = samples.shape
    tile_rows = max(1, (rows + tile // 2) // tile)
    tile_columns = max(1, (columns + tile // 2) // tile)
    level = np.full((tile_rows, tile_columns, 3), np.nan, dtype=np.float32)
    noise = np.full((tile_rows, tile_columns, 3), np.nan, dtype=np.float32)
    # The last tile of a row or column takes the rest, up to one and a half tiles.
    room = (2 * tile) * (2 * tile)
    held = np.empty((3, room), dtype=np.float32)
    p, q = pattern.shape
    for i in range(tile_rows):
        top = i * tile
        bottom = rows if i == tile_rows - 1 else top + tile
        for j in range(tile_columns):
            left = j * tile
            right = columns if j == tile_columns - 1 else left + tile
            count = np.zeros(3, dtype=np.int64)
            for y in range(top, bottom):
                row = pattern[y % p]
                k = left % q
                for x in range(left, right):
                    c = row[k]
                    held[c, count[c]] = samples[y, x]
                    count[c] += 1
                    k += 1
                    if k == q:
                        k = 0
            for c in range(3):
                if count[c] >= 16:
                    a, b = _clipped(held[c, : count[c]])
                    level[i, j, c] = a
                    noise[i, j, c] = b
    return level, noise


@compiled
def _clipped(values):  # type: ignore[no-untyped-def]
    """Mean and deviation of the values near the median, corrected for the cut."""
    # Every so many values begin it: the cut is wide, and all values make the mean.
    some = values[:: max(1, values.size // 256)].copy()
    n = some.size
    middle = select(some, n // 2)
    lower = select(some[: n // 2 + 1], n // 4)
    # At least one count: rounding makes a quiet sky look noiseless.
    deviation = max((middle - lower) / 0.6745, 0.6)
    mean = middle
    for _ in range(2):
        total = 0.0
        square = 0.0
        kept = 0
        for v in values:
            d = v - mean
            if abs(d) <= 2.5 * deviation:
                total += d
                square += d * d
                kept += 1
        if kept < 8:
            break
        shift = total / kept
        # Deviation of a normal distribution cut at 2.5 deviations: 0.9546.
        deviation = max(math.sqrt(max(square / kept - shift * shift, 0.0)) / 0.9546, 0.29)
        mean += shift
    return mean, deviation


@compiled
def select(values, k):  # type: ignore[no-untyped-def]
    """The k-th smallest value; the array is partly sorted in place (Hoare's quickselect)."""
    low, high = 0, values.size - 1
    while low < high:
        pivot = values[(low + high) // 2]
        i, j = low, high
        while i <= j:
            while values[i] < pivot:
                i += 1
            while values[j] > pivot:
                j -= 1
            if i <= j:
                values[i], values[j] = values[j], values[i]
                i += 1
                j -= 1
        if k <= j:
            high = j
        elif k >= i:
            low = i
        else:
            break
    return values[k]


@compiled
def _normalised(samples, pattern, level, noise, tile):  # type: ignore[no-untyped-def]
    """Levels lie at tile centres; between them they are interpolated, beyond them held."""
    rows, columns = samples.shape
    tile_rows, tile_columns = level.shape[0], level.shape[1]
    out = np.empty((rows, columns), dtype=np.float32)
    line_level = np.empty((3, tile_columns), dtype=np.float32)
    line_inverse = np.empty((3, tile_columns), dtype=np.float32)
    for y in range(rows):
        v = min(max((y + 0.5) / tile - 0.5, 0.0), tile_rows - 1.0)
        i = min(int(v), max(tile_rows - 2, 0))
        below = min(i + 1, tile_rows - 1)
        share = np.float32(v - i)
        for c in range(3):
            for j in range(tile_columns):
                line_level[c, j] = level[i, j, c] * (1 - share) + level[below, j, c] * share
                mixed = noise[i, j, c] * (1 - share) + noise[below, j, c] * share
                line_inverse[c, j] = 1 / mixed
        row = pattern[y % pattern.shape[0]]
        half = tile // 2
        _ramp(out[y], samples[y], row, line_level, line_inverse, 0, 0, half, tile)
        for j in range(tile_columns):
            start = half + j * tile
            stop = columns if j == tile_columns - 1 else min(start + tile, columns)
            _ramp(out[y], samples[y], row, line_level, line_inverse, j, start, stop, tile)
    return out


@compiled
def _ramp(out, samples, row, level, inverse, j, start, stop, tile):  # type: ignore[no-untyped-def]
    """One stretch between two tile centres (flat before the first and after the last)."""
    q = row.size
    last = level.shape[1] - 1
    following = min(j + 1, last) if start > 0 else j
    stop = min(stop, out.size)
    for k in range(q):
        x0 = start + k
        c = row[x0 % q]
        a = level[c, j]
        b = inverse[c, j]
        da = (level[c, following] - a) / tile
        db = (inverse[c, following] - b) / tile
        for x in range(x0, stop, q):
            t = np.float32(x - start + 0.5)
            out[x] = (np.float32(samples[x]) - (a + da * t)) * (b + db * t)
