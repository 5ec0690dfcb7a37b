"""Stars drawn into a frame: each one's spot along its own path, only as far as it shows."""

from __future__ import annotations

import math

import numpy as np

from nightglass.optics.arrays import Floats, Floats32
from nightglass.optics.compiled import compiled
from nightglass.scene.sky.fieldspots import FINE, LensSpots

LEAST_COUNTS = 0.01
"""A spot is drawn as far as it adds this much to a sample: a thousandth of a usual noise."""


def draw_stars(
    light: Floats32,
    paths: tuple[Floats, Floats],
    flux: Floats,
    spots: LensSpots,
    smooth: bool,
    least_counts: float = LEAST_COUNTS,
) -> None:
    """Add stars to the light [counts] of an RGGB mosaic.

    paths: places x, y (stars, steps) at even times; flux (stars, 3): counts in red, green, blue
    if all pixels had that colour. smooth: spots blended between the cells of the grid; else each
    star has its cell's own. least_counts: a spot is drawn as far as it adds this much.
    """
    sides = _brightest_beyond(spots.stamps)
    _draw(light, *paths, flux, spots.stamps, sides, (smooth, least_counts))


def _brightest_beyond(stamps: Floats32) -> Floats:
    """Largest value over all stamps at k pixels or more from the middle; index k."""
    largest = stamps.max(axis=(0, 1)).astype(np.float64) * FINE * FINE
    half = largest.shape[0] // 2
    away = np.abs(np.arange(largest.shape[0]) - half) / FINE
    distance = np.maximum(away[:, None], away[None, :])
    return np.array([largest[distance >= k].max() for k in range(half // FINE)])


@compiled
def _draw(light, paths_x, paths_y, flux, stamps, beyond, how):  # type: ignore[no-untyped-def]
    rows, columns = light.shape
    smooth, least = how
    samples = stamps.shape[2]
    half = samples // 2
    steps = paths_x.shape[1]
    own = np.zeros((samples, samples), dtype=np.float32)
    share = np.empty(3, dtype=np.float32)
    for s in range(paths_x.shape[0]):
        strongest = max(flux[s, 0], flux[s, 1], flux[s, 2])
        reach = 1
        while reach < half // FINE - 1 and strongest * beyond[reach] > least:
            reach += 1
        mx, my = paths_x[s, steps // 2], paths_y[s, steps // 2]
        place = my / rows, mx / columns
        # One stamping reads two rows of a pixel's FINE, the same in all pixels.
        phase = math.floor(half - my * FINE) % FINE if steps == 1 else -1
        _choose(own, stamps, place, (reach + 1) * FINE + 1, smooth, phase)
        # Half a pixel apart is enough: the spot itself is wider.
        length = math.hypot(paths_x[s, -1] - paths_x[s, 0], paths_y[s, -1] - paths_y[s, 0])
        used = max(1, math.ceil(length * 2.5)) if steps > 1 else 1
        for c in range(3):
            share[c] = flux[s, c] / used * (FINE * FINE)
        for k in range(used):
            at = (k + 0.5) / used * (steps - 1)
            a = min(int(at), steps - 2) if steps > 1 else 0
            b = min(a + 1, steps - 1)
            x = paths_x[s, a] + (at - a) * (paths_x[s, b] - paths_x[s, a])
            y = paths_y[s, a] + (at - a) * (paths_y[s, b] - paths_y[s, a])
            _stamp(light, own, x, y, reach, share)


@compiled
def _choose(own, stamps, place, away, smooth, phase):  # type: ignore[no-untyped-def]
    """Fill `own` about its middle with the spot at shares of the height and width.

    phase: row of FINE from which on two rows each are read; -1 for all.
    """
    down, across = place
    grid_rows, grid_columns = stamps.shape[0], stamps.shape[1]
    first = max(own.shape[0] // 2 - away, 0)
    last = min(own.shape[0] // 2 + away + 1, own.shape[0])
    if not smooth:
        i = min(max(int(down * grid_rows), 0), grid_rows - 1)
        j = min(max(int(across * grid_columns), 0), grid_columns - 1)
        own[first:last, first:last] = stamps[i, j, first:last, first:last]
        return
    y = min(max(down * grid_rows - 0.5, 0.0), grid_rows - 1.0)
    x = min(max(across * grid_columns - 0.5, 0.0), grid_columns - 1.0)
    i, j = int(y), int(x)
    i2, j2 = min(i + 1, grid_rows - 1), min(j + 1, grid_columns - 1)
    ty, tx = np.float32(y - i), np.float32(x - j)
    part = slice(first, last)
    for v in range(first, last):
        if phase < 0 or (v - phase) % FINE <= 1:
            upper = stamps[i, j, v, part], stamps[i, j2, v, part]
            lower = stamps[i2, j, v, part], stamps[i2, j2, v, part]
            _blend(own[v, part], upper, lower, tx, ty)


@compiled
def _blend(out, upper, lower, tx, ty):  # type: ignore[no-untyped-def]
    """Fill a row from the rows of four cells; plain enough to be done several samples at once."""
    (a, b), (c, d) = upper, lower
    one = np.float32(1.0)
    for k in range(out.size):
        top = (one - tx) * a[k] + tx * b[k]
        low = (one - tx) * c[k] + tx * d[k]
        out[k] = (one - ty) * top + ty * low


@compiled
def _stamp(light, own, x, y, reach, share):  # type: ignore[no-untyped-def]
    """Add the spot at (x, y), read between its samples; share: counts times samples, by colour."""
    rows, columns = light.shape
    half = own.shape[0] // 2
    one = np.float32(1.0)
    for v in range(max(int(y) - reach, 0), min(int(y) + reach + 1, rows)):
        fy = (v - y) * FINE + half
        iy = int(fy)
        ty = np.float32(fy - iy)
        for u in range(max(int(x) - reach, 0), min(int(x) + reach + 1, columns)):
            # RGGB: red 0, green 1, blue 2 by the parities of row and column.
            light_here = share[(v & 1) + (u & 1)]
            if light_here == 0:
                continue
            fx = (u - x) * FINE + half
            ix = int(fx)
            tx = np.float32(fx - ix)
            top = (one - tx) * own[iy, ix] + tx * own[iy, ix + 1]
            low = (one - tx) * own[iy + 1, ix] + tx * own[iy + 1, ix + 1]
            light[v, u] += light_here * ((one - ty) * top + ty * low)
