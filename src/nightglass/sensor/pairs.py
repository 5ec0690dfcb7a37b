"""Two frames of the same light against each other: what differs is noise, what agrees is pattern.

Tile by tile and colour by colour. With A and B above black and r = A / B over the tile, changing
evenly down its rows (a lamp that flickers), d = A - r B holds noise alone: shading and unlike
pixels fall out. Then each row of a tile is centred for itself, because the light of a lamp on
mains current swings from row to row.
The temporal variance is that of EMVA 1288 Release 3.1, clause 6.6 (half the variance of the
difference), for r = 1.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nightglass.frame.record import Frame
from nightglass.optics.arrays import Counts, Floats
from nightglass.optics.compiled import compiled

TILE_ROWS, TILE_COLUMNS = 48, 96
"""Both hold whole cells of 2 x 2 and 6 x 6 mosaics; 1,152 samples of the rarest Bayer colour."""
CUT_SIGMA = 6.0
"""Samples farther off are hot pixels, particles and blinking pixels; of noise 2 in a billion."""
LEAST_CUT = 2.5
"""Counts: where noise hides within a count, single steps of one are all that shows of it."""
PASSES = 6
MOST_CLIPPED = 0.005
"""Share of a tile's samples at clipping from which it tells nothing; fewer are hot pixels."""
FAR_APART = 7
"""Places to the next sample of the same colour, at most, in a 6 x 6 mosaic."""
COLUMNS = 9


@dataclass(frozen=True)
class TilePairs:
    """What a pair of frames shows, each (tiles, colours); nan where a tile tells nothing.

    Levels and variances are those of one frame, in counts above `black` and counts squared.
    """

    samples: Floats
    """Samples that count, less the means taken off: degrees of freedom of the variance."""
    first: Floats
    second: Floats
    """Levels of the two frames above black."""
    level: Floats
    """The level to which the variance belongs."""
    variance: Floats
    """Temporal variance of a sample, the part that its row shares left out."""
    pattern: Floats
    """Variance that both frames share, at the first's level; the tile's slope and its row means
    are left out."""
    across: Floats
    down: Floats
    """Correlation of the noise of neighbours of one colour, in the row and in the column."""
    cut: Floats
    """Samples left out as outliers."""
    tile_x_px: Floats
    tile_y_px: Floats
    """Middles of the tiles, (tiles,)."""


def tile_pairs(a: Frame, b: Frame, black: Floats, lit: bool) -> TilePairs:
    """Return the tiles of two frames of one size and mosaic.

    black: counts per colour number. lit: scale B to A tile by tile; False in the dark. Raises
    ValueError for frames of different size, mosaic or without one.
    """
    if a.kind != "mosaic" or b.kind != "mosaic":
        raise ValueError(f"{a.file}, {b.file}: noise is measured on the raw mosaic only")
    if a.samples.shape != b.samples.shape or not np.array_equal(a.pattern, b.pattern):
        raise ValueError(f"{a.file} and {b.file} differ in size or mosaic; a pair needs two alike")
    height, width = a.samples.shape[:2]
    if height < TILE_ROWS or width < TILE_COLUMNS:
        raise ValueError(
            f"{a.file}: {width} x {height} px; it takes {TILE_COLUMNS} x {TILE_ROWS} at least"
        )
    colours = int(a.pattern.max()) + 1
    ceiling = np.array([_ceiling(a, colour) for colour in range(colours)])
    found = _pairs(
        np.ascontiguousarray(a.samples),
        np.ascontiguousarray(b.samples),
        a.pattern.astype(np.int64),
        np.asarray(black, dtype=np.float64),
        ceiling,
        lit,
    )
    rows, columns = height // TILE_ROWS, width // TILE_COLUMNS
    y, x = np.divmod(np.arange(rows * columns), columns)
    free, first, second, level, variance, pattern, across, down, cut = np.moveaxis(found, -1, 0)
    return TilePairs(
        free, first, second, level, variance, pattern, across, down, cut,
        tile_x_px=(x + 0.5) * TILE_COLUMNS,
        tile_y_px=(y + 0.5) * TILE_ROWS,
    )  # fmt: skip


def _ceiling(frame: Frame, colour: int) -> float:
    at = frame.pattern == colour
    if not at.any():
        return np.inf
    p, q = frame.pattern.shape
    tile = np.broadcast_to(frame.clipping[:p, :q], (p, q))
    return float(tile[at].min())


@compiled
def _pairs(
    a: Counts,
    b: Counts,
    pattern: NDArray[np.int64],
    black: Floats,
    ceiling: Floats,
    lit: bool,
) -> Floats:
    rows, columns = a.shape[0] // TILE_ROWS, a.shape[1] // TILE_COLUMNS
    colours = black.size
    out = np.full((rows * columns, colours, COLUMNS), np.nan)
    first = np.empty((TILE_ROWS, TILE_COLUMNS))
    second = np.empty((TILE_ROWS, TILE_COLUMNS))
    p, q = pattern.shape
    for tile in range(rows * columns):
        top, left = (tile // columns) * TILE_ROWS, (tile % columns) * TILE_COLUMNS
        for colour in range(colours):
            count, clipped, sum_a, sum_b = 0, 0, 0.0, 0.0
            for y in range(TILE_ROWS):
                for x in range(TILE_COLUMNS):
                    first[y, x] = np.nan
                    if pattern[(top + y) % p, (left + x) % q] != colour:
                        continue
                    va, vb = float(a[top + y, left + x]), float(b[top + y, left + x])
                    if va >= ceiling[colour] or vb >= ceiling[colour]:
                        clipped += 1
                        continue
                    first[y, x] = va - black[colour]
                    second[y, x] = vb - black[colour]
                    sum_a += first[y, x]
                    sum_b += second[y, x]
                    count += 1
            if count < 2 * TILE_ROWS or clipped > MOST_CLIPPED * (count + clipped):
                continue
            _of_tile(first, second, sum_a / count, sum_b / count, lit, out[tile, colour])
    return out


@compiled
def _of_tile(
    first: Floats, second: Floats, mean_a: float, mean_b: float, lit: bool, out: Floats
) -> None:
    """Fill the answers of one tile and colour; first is overwritten with the difference."""
    ratio, turn = 1.0, 0.0
    middle = (first.shape[0] - 1) / 2
    if lit:
        if mean_a <= 0 or mean_b <= 0:
            return
        ratio = mean_a / mean_b
        turn = _ratio_slope(first, second, ratio, middle)
    total = np.empty(first.shape)
    for y in range(first.shape[0]):
        scaled = ratio * (1 + turn * (y - middle))
        for x in range(first.shape[1]):
            u, v = first[y, x], scaled * second[y, x]
            first[y, x] = u - v
            total[y, x] = u + v
    most_d, most_t = np.inf, np.inf
    cut = 0.0
    free, var_d, var_t, mean_t, slope = 0.0, 0.0, 0.0, 0.0, 0.0
    for turn in range(PASSES):
        free, var_d, var_t, mean_t, slope, dropped = _centred(first, total, most_d, most_t, slope)
        cut += dropped
        if free < 20:
            return
        most_d = max(CUT_SIGMA * np.sqrt(var_d), LEAST_CUT)
        most_t = max(CUT_SIGMA * np.sqrt(var_t), LEAST_CUT)
        if dropped == 0 and turn > 0:
            break
    across, down = _neighbours(first, var_d)
    scale = 1 + ratio * ratio
    level_a = mean_t / 2
    level_b = mean_t / 2 / ratio
    out[0] = free
    out[1] = level_a
    out[2] = level_b
    out[3] = (level_a + ratio * ratio * level_b) / scale
    out[4] = var_d / scale
    out[5] = (var_t - var_d) / 4
    out[6] = across
    out[7] = down
    out[8] = cut


@compiled
def _ratio_slope(first: Floats, second: Floats, ratio: float, middle: float) -> float:
    """Change of the ratio per row: with a sloped light a lamp's flicker would turn to noise."""
    top, bottom = 0.0, 0.0
    for y in range(first.shape[0]):
        away, of_b = 0.0, 0.0
        for x in range(first.shape[1]):
            if not np.isnan(first[y, x]):
                of_b += ratio * second[y, x]
                away += first[y, x] - ratio * second[y, x]
        top += (y - middle) * away
        bottom += (y - middle) ** 2 * of_b
    return top / bottom if bottom > 0 else 0.0


@compiled
def _centred(
    difference: Floats, total: Floats, most_d: float, most_t: float, slope: float
) -> tuple[float, float, float, float, float, float]:
    """Drop outliers, then centre the rows of the difference and give both variances.

    slope: of the sum along its rows, as the last pass found it. Returns degrees of freedom,
    variance of the difference and of the sum (its slope taken off), the mean of the sum, its
    slope and the number of samples dropped.
    """
    rows, columns = difference.shape
    n, lines, dropped = 0, 0, 0
    sum_dd, sum_tt, sum_xx, sum_xt, sum_t = 0.0, 0.0, 0.0, 0.0, 0.0
    for y in range(rows):
        count, mean_d, mean_t, mean_x = 0, 0.0, 0.0, 0.0
        for x in range(columns):
            if not np.isnan(difference[y, x]):
                count += 1
                mean_x += x
                mean_d += difference[y, x]
                mean_t += total[y, x]
        if count == 0:
            continue
        mean_d, mean_t, at = mean_d / count, mean_t / count, mean_x / count
        kept, new_d, new_t, mean_x = 0, 0.0, 0.0, 0.0
        for x in range(columns):
            if np.isnan(difference[y, x]):
                continue
            away = total[y, x] - mean_t - slope * (x - at)
            if abs(difference[y, x] - mean_d) > most_d or abs(away) > most_t:
                difference[y, x] = np.nan
                dropped += 1
            else:
                kept += 1
                new_d += difference[y, x]
                new_t += total[y, x]
                mean_x += x
        if kept < 2:
            continue
        mean_d, mean_t, mean_x = new_d / kept, new_t / kept, mean_x / kept
        for x in range(columns):
            if np.isnan(difference[y, x]):
                continue
            difference[y, x] -= mean_d
            t = total[y, x] - mean_t
            sum_dd += difference[y, x] ** 2
            sum_tt += t * t
            sum_xx += (x - mean_x) ** 2
            sum_xt += (x - mean_x) * t
        sum_t += new_t
        n += kept
        lines += 1
    free = float(n - lines)
    if free < 20:
        return 0.0, 0.0, 0.0, 0.0, 0.0, 0.0
    var_t = (sum_tt - sum_xt**2 / sum_xx) / (free - 1)
    return free, sum_dd / free, var_t, sum_t / n, sum_xt / sum_xx, float(dropped)


@compiled
def _neighbours(difference: Floats, variance: float) -> tuple[float, float]:
    """Correlation with the next sample of the colour in the row and in the column.

    Centring a row of n samples makes its neighbours correlate by -1 / n: that is put back.
    """
    rows, columns = difference.shape
    across, down, n_across, n_down, back = 0.0, 0.0, 0, 0, 0.0
    for y in range(rows):
        in_row = 0
        for x in range(columns):
            if not np.isnan(difference[y, x]):
                in_row += 1
        for x in range(columns):
            own = difference[y, x]
            if np.isnan(own):
                continue
            for step in range(1, FAR_APART):
                if x + step < columns and not np.isnan(difference[y, x + step]):
                    across += own * difference[y, x + step]
                    back += 1.0 / in_row
                    n_across += 1
                    break
            for step in range(1, FAR_APART):
                if y + step < rows and not np.isnan(difference[y + step, x]):
                    down += own * difference[y + step, x]
                    n_down += 1
                    break
    if n_across == 0 or n_down == 0 or variance <= 0:
        return 0.0, 0.0
    return across / n_across / variance + back / n_across, down / n_down / variance
