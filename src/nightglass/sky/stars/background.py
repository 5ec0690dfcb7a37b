"""The sky's level and noise per colour, by tiles of a mosaic and anywhere between them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from nightglass.frame.record import Frame
from nightglass.optics.arrays import Floats, Floats32
from nightglass.optics.compiled import compiled
from nightglass.sky.stars.tiles import level_and_noise, quick_look, select, slopes

TILE_PX = 64
"""Side of a tile: 1,024 samples of the rarest Bayer colour, so that a level is known to 4 % of
the noise, and small beside the changes of a sky."""
KNOT_PX = 16
"""Distance of the points between which the level is a straight line: a smooth cloud of 600 px
bends away from it by 1/1,000 of its height."""
LEAST_SIDE_PX = TILE_PX
QUIETEST = 0.1
"""Share of the frame's usual noise that a tile has at least: the blank border of a registered
picture has none, and the darkest corner of a wide lens a third."""


@dataclass(frozen=True)
class SkyLevel:
    """Level above black and noise of single samples [counts], (tile rows, tile columns, 3).

    The third axis is the colour number; colours that the mosaic lacks hold nan. knots,
    knot_noise: the same at the corners of squares of KNOT_PX, curved between the tiles,
    (knot rows, knot columns, 3); the first lies at (-0.5, -0.5).
    """

    level: Floats32
    noise: Floats32
    knots: Floats32
    knot_noise: Floats32
    black: Floats32
    """Mean black of each colour, (3,)."""
    tile_px: int = TILE_PX


def sky_level(frame: Frame) -> SkyLevel:
    """Return the sky's level and noise of a one-plane frame, stars cut off.

    Each tile: what lies within 2.5 deviations of the mean, over the tile's own slope. A tile that
    stands out from its neighbours far more than they do from theirs (a planet, a lamp) takes
    their level; the noise is the median over 3 x 3 tiles. Raises ValueError for a frame with
    three planes, one under LEAST_SIDE_PX high or wide, an empty one, and samples that are no
    numbers.
    """
    _check(frame)
    samples, pattern = frame.samples, frame.pattern
    grain = 1.0 if np.issubdtype(samples.dtype, np.integer) else 0.0
    middle, deviation = quick_look(samples, pattern, TILE_PX)
    slope = slopes(middle, TILE_PX)
    raw, noise = level_and_noise(samples, pattern, TILE_PX, middle, deviation, slope, grain)
    if not grain:
        noise = _not_silent(frame, noise)
    level, noise = _mended(raw, noise)
    black = _black_per_colour(frame)
    level -= black
    return SkyLevel(
        level=level,
        noise=noise,
        knots=_knots(level, frame.samples.shape, curved=True),
        knot_noise=_knots(noise, frame.samples.shape, curved=False),
        black=black,
    )


def _check(frame: Frame) -> None:
    name, samples = frame.file or "the frame", frame.samples
    if samples.ndim != 2:
        raise ValueError(
            f"{name} has three planes; stars are looked for in a mosaic or a grey picture"
        )
    if min(samples.shape) < LEAST_SIDE_PX:
        raise ValueError(
            f"{name} is {samples.shape[1]} x {samples.shape[0]} px; stars are looked for in frames "
            f"of at least {LEAST_SIDE_PX} x {LEAST_SIDE_PX} px: a thumbnail? Give the whole frame"
        )
    if np.issubdtype(samples.dtype, np.floating) and not np.isfinite(samples).all():
        raise ValueError(f"{name} has samples that are no numbers (NaN); write it without them")


def _not_silent(frame: Frame, noise: Floats32) -> Floats32:
    """Noise of the tiles of a frame of floats: equal samples have none to divide by."""
    heard = noise[noise > 0]
    if heard.size == 0:
        raise ValueError(
            f"{frame.file or 'the frame'} is empty: its samples are all alike; export it again"
        )
    return np.maximum(noise, np.float32(QUIETEST) * np.median(heard))


def noise_at(sky: SkyLevel, x_px: Floats, y_px: Floats) -> Floats32:
    """Return the noise [counts] per colour, (n, 3), at places of the frame."""
    return _between(sky.knot_noise, x_px, y_px)


def level_at(sky: SkyLevel, x_px: Floats, y_px: Floats) -> Floats32:
    """Return the level above black [counts] per colour, (n, 3), at places of the frame."""
    return _between(sky.knots, x_px, y_px)


def _between(knots: Floats32, x_px: Floats, y_px: Floats) -> Floats32:
    row = np.clip((np.asarray(y_px) + 0.5) / KNOT_PX, 0, knots.shape[0] - 1.001)
    column = np.clip((np.asarray(x_px) + 0.5) / KNOT_PX, 0, knots.shape[1] - 1.001)
    i, j = row.astype(np.intp), column.astype(np.intp)
    v, u = (row - i)[:, None], (column - j)[:, None]
    upper = knots[i, j] * (1 - u) + knots[i, j + 1] * u
    lower = knots[i + 1, j] * (1 - u) + knots[i + 1, j + 1] * u
    return np.asarray(upper * (1 - v) + lower * v, dtype=np.float32)


def _black_per_colour(frame: Frame) -> Floats32:
    """Mean black of each colour; places of one colour differ by fractions of the noise."""
    black = np.full(3, np.nan, dtype=np.float32)
    for colour in range(3):
        chosen = frame.pattern == colour
        if np.any(chosen):
            black[colour] = np.broadcast_to(frame.black, frame.pattern.shape)[chosen].mean()
    return black


def _knots(tiles: Floats32, shape: tuple[int, ...], curved: bool) -> Floats32:
    """Values at the knots of a frame of a shape; the outermost half tiles go on straight."""
    down = _weights(shape[0], tiles.shape[0], curved)
    across = _weights(shape[1], tiles.shape[1], curved)
    out = np.empty((down.shape[0], across.shape[0], 3), dtype=np.float32)
    for colour in range(3):
        out[..., colour] = down @ tiles[..., colour].astype(np.float64) @ across.T
    return out


def _weights(length: int, tiles: int, curved: bool) -> Floats:
    """Weights (knots, tiles) of Catmull and Rom's cubic, or of straight lines held at the rim."""
    place = np.arange(length // KNOT_PX + 2) * KNOT_PX / TILE_PX - 0.5
    first = np.clip(np.floor(place).astype(int), 0, max(tiles - 2, 0))
    t = place - first
    out = np.zeros((place.size, tiles + 2))
    rows = np.arange(place.size)
    if tiles == 1 or not curved:
        t = np.clip(t, 0.0, 1.0 if tiles > 1 else 0.0)
        out[rows, first + 1] = 1 - t
        out[rows, first + 2] = t
        return out[:, 1 : tiles + 1]
    inside = (t >= 0) & (t <= 1)
    cubic = (
        (-t + 2 * t**2 - t**3) / 2,
        (2 - 5 * t**2 + 3 * t**3) / 2,
        (t + 4 * t**2 - 3 * t**3) / 2,
        (t**3 - t**2) / 2,
    )
    straight = (np.zeros_like(t), 1 - t, t, np.zeros_like(t))
    for k in range(4):
        out[rows, first + k] = np.where(inside, cubic[k], straight[k])
    # The tiles beyond the rim continue the last difference.
    out[:, 1] += 2 * out[:, 0]
    out[:, 2] -= out[:, 0]
    out[:, tiles] += 2 * out[:, tiles + 1]
    out[:, tiles - 1] -= out[:, tiles + 1]
    return out[:, 1 : tiles + 1]


@compiled
def _mended(raw, noise):  # type: ignore[no-untyped-def]
    """Levels of tile middles without the tiles that stand out; noise as medians over 3 x 3."""
    rows, columns = raw.shape[0], raw.shape[1]
    quiet = np.empty_like(noise)
    off = np.zeros((rows, columns), dtype=np.float32)
    bend = np.zeros((rows, columns), dtype=np.float32)
    near = np.empty(9, dtype=np.float32)
    for c in range(3):
        level = raw[:, :, c].copy()
        for i in range(rows):
            for j in range(columns):
                off[i, j] = level[i, j] - _expected(level, i, j)
                n = _near(near, noise[:, :, c], i, j)
                quiet[i, j, c] = select(near[:n], n // 2)
        for i in range(rows):
            for j in range(columns):
                n = _near(near, np.abs(off), i, j)
                # Itself and up to two others may stand out: the next ones tell what is usual.
                usual = select(near[:n], max(n - 4, 0))
                if abs(off[i, j]) > 1.5 * usual + 0.5 * quiet[i, j, c]:
                    level[i, j] -= off[i, j]
        for i in range(rows):
            for j in range(columns):
                bend[i, j] = _bend(level, i, j)
        # The mean of a tile lies 1/24 of its second differences above the level of its middle;
        # at a rim of land they change their sign and the middle one is none.
        for i in range(rows):
            for j in range(columns):
                n = _near(near, bend, i, j)
                raw[i, j, c] = level[i, j] - select(near[:n], n // 2) / 24
    return raw, quiet


@compiled
def _near(near, values, i, j):  # type: ignore[no-untyped-def]
    """Take the values of a tile and its neighbours; return how many."""
    n = 0
    for v in range(max(i - 1, 0), min(i + 2, values.shape[0])):
        for u in range(max(j - 1, 0), min(j + 2, values.shape[1])):
            near[n] = values[v, u]
            n += 1
    return n


@compiled
def _expected(level, i, j):  # type: ignore[no-untyped-def]
    """What the opposite neighbours of a tile say, by the median of up to four pairs."""
    rows, columns = level.shape
    pairs = np.empty(4, dtype=np.float32)
    n = 0
    inside_y, inside_x = 0 < i < rows - 1, 0 < j < columns - 1
    if inside_y:
        pairs[n] = 0.5 * (level[i - 1, j] + level[i + 1, j])
        n += 1
    if inside_x:
        pairs[n] = 0.5 * (level[i, j - 1] + level[i, j + 1])
        n += 1
    if inside_y and inside_x:
        pairs[n] = 0.5 * (level[i - 1, j - 1] + level[i + 1, j + 1])
        pairs[n + 1] = 0.5 * (level[i - 1, j + 1] + level[i + 1, j - 1])
        n += 2
    if n == 0:
        return level[i, j]
    if n < 4:
        return pairs[0]
    select(pairs, 1)
    return 0.5 * (pairs[1] + min(pairs[2], pairs[3]))


@compiled
def _bend(level, i, j):  # type: ignore[no-untyped-def]
    """Second differences; at the rim those of the tile inward."""
    rows, columns = level.shape
    bend = 0.0
    if rows > 2:
        v = min(max(i, 1), rows - 2)
        bend += level[v - 1, j] + level[v + 1, j] - 2 * level[v, j]
    if columns > 2:
        u = min(max(j, 1), columns - 2)
        bend += level[i, u - 1] + level[i, u + 1] - 2 * level[i, u]
    return bend
