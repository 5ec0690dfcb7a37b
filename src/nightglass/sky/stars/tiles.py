"""Inner loops that measure the sky's level and noise in square tiles of a mosaic.

A quick look at every so many samples tells roughly where each tile lies and how it slopes; then
one pass over all samples counts them by what they lie above that slope, and level and noise come
out of the counts: no copy of the samples is made.
"""

from __future__ import annotations

import math

import numpy as np

from nightglass.optics.compiled import compiled

QUICK_SAMPLES = 64
"""Of the rarest colour in a tile: the median of so many is known to 16 % of the noise."""
REACH = 4.0
"""Deviations on either side of the median that are counted apart."""
BINS = 256
CUT = 2.5
CUT_SHARE = 0.9546
"""Deviation of a normal distribution cut at 2.5 deviations, over that of the whole one."""


@compiled
def edges(length, tile):  # type: ignore[no-untyped-def]
    """Return where tiles begin and end; the last one takes a rest of up to half a tile."""
    count = max(1, (length + tile // 2) // tile)
    out = np.empty(count + 1, dtype=np.int64)
    for k in range(count):
        out[k] = k * tile
    out[count] = length
    return out


@compiled
def quick_look(samples, pattern, tile):  # type: ignore[no-untyped-def]
    """Return the rough median and deviation per tile and colour, (tile rows, columns, 3)."""
    across, down = edges(samples.shape[1], tile), edges(samples.shape[0], tile)
    p, q = pattern.shape
    least = pattern.size
    for c in range(3):
        own = np.count_nonzero(pattern == c)
        if own:
            least = min(least, own)
    cells = math.sqrt(QUICK_SAMPLES / least)
    step_y = p * max(1, int(tile / p / cells))
    step_x = q * max(1, int(tile / q / cells))
    shape = (down.size - 1, across.size - 1, 3)
    middle = np.full(shape, np.nan, dtype=np.float32)
    deviation = np.full(shape, np.nan, dtype=np.float32)
    held = np.empty((3, 4 * tile * tile), dtype=samples.dtype)
    count = np.zeros(3, dtype=np.int64)
    for i in range(shape[0]):
        top, bottom = p * ((down[i] + p - 1) // p), down[i + 1] - p + 1
        for j in range(shape[1]):
            left, right = q * ((across[j] + q - 1) // q), across[j + 1] - q + 1
            count[:] = 0
            for y in range(top, bottom, step_y):
                for r in range(p):
                    for x in range(left, right, step_x):
                        for k in range(q):
                            c = pattern[r, k]
                            held[c, count[c]] = samples[y + r, x + k]
                            count[c] += 1
            for c in range(3):
                if count[c] >= 8:
                    middle[i, j, c], deviation[i, j, c] = _median_and_deviation(held[c, : count[c]])
    return middle, deviation


@compiled
def _median_and_deviation(values):  # type: ignore[no-untyped-def]
    """The deviation comes from the lower quartile: stars lie on the other side."""
    n = values.size
    middle = float(select(values, n // 2))
    lower = float(select(values[: n // 2 + 1], n // 4))
    return middle, (middle - lower) / 0.6745


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
def slopes(middle, tile):  # type: ignore[no-untyped-def]
    """Return the slope [counts per px] of each tile along y and x, (tile rows, columns, 3, 2).

    The smaller of the differences to both sides where they agree in sign, else 0: the rim of land
    gives the tile beside it no slope. At the rim of the frame that of the tile inward.
    """
    rows, columns = middle.shape[0], middle.shape[1]
    out = np.zeros((rows, columns, 3, 2), dtype=np.float32)
    for i in range(rows):
        for j in range(columns):
            v, u = min(max(i, 1), rows - 2), min(max(j, 1), columns - 2)
            for c in range(3):
                if rows > 2:
                    own = middle[v, j, c]
                    rise = _lesser(own - middle[v - 1, j, c], middle[v + 1, j, c] - own)
                    out[i, j, c, 0] = rise / tile
                if columns > 2:
                    own = middle[i, u, c]
                    rise = _lesser(own - middle[i, u - 1, c], middle[i, u + 1, c] - own)
                    out[i, j, c, 1] = rise / tile
    return out


@compiled
def _lesser(a, b):  # type: ignore[no-untyped-def]
    if a > 0 and b > 0:
        return min(a, b)
    if a < 0 and b < 0:
        return max(a, b)
    return np.float32(0.0)


@compiled
def level_and_noise(samples, pattern, tile, middle, deviation, slope, grain):  # type: ignore[no-untyped-def]
    """Return level and noise per tile and colour, (tile rows, columns, 3), float32 each.

    The level is that of the middle of a whole tile. middle, deviation, slope: from quick_look and
    slopes. grain: step of the samples, 1 for whole counts, 0 for floats.
    """
    across, down = edges(samples.shape[1], tile), edges(samples.shape[0], tile)
    p, q = pattern.shape
    level = np.full(middle.shape, np.nan, dtype=np.float32)
    noise = np.full(middle.shape, np.nan, dtype=np.float32)
    counts = np.zeros(3 * BINS, dtype=np.int32)
    width, start = np.ones(3), np.zeros(3)
    room = 2 * tile
    # Per row of the pattern: where the first bin begins, its change per row, 1 / bin, first bin.
    line = np.empty((p, 4, room), dtype=np.float32)
    place = np.empty(room, dtype=np.int32)
    for i in range(middle.shape[0]):
        for j in range(middle.shape[1]):
            for c in range(3):
                # At least one count: rounding makes a quiet sky look noiseless.
                spread = max(deviation[i, j, c], 0.6 * grain)
                start[c], width[c] = _first_bin(middle[i, j, c], spread, grain)
            left, wide = across[j], across[j + 1] - across[j]
            mid_y, mid_x = (i + 0.5) * tile - 0.5, (j + 0.5) * tile - 0.5
            for r in range(p):
                for x in range(wide):
                    c = pattern[r, (left + x) % q]
                    line[r, 0, x] = start[c] + slope[i, j, c, 1] * (left + x - mid_x)
                    line[r, 1, x] = slope[i, j, c, 0]
                    line[r, 2, x] = 1 / width[c]
                    line[r, 3, x] = c * BINS
            counts[:] = 0
            for y in range(down[i], down[i + 1]):
                own = line[y % p]
                away = np.float32(y - mid_y)
                part = samples[y, left : left + wide]
                _bins(place, part, own[0], own[1], own[2], own[3], away)
                for x in range(wide):
                    counts[place[x]] += 1
            for c in range(3):
                own_counts = counts[c * BINS : (c + 1) * BINS]
                if own_counts.sum() >= 16:
                    spread = max(deviation[i, j, c], 0.6 * grain)
                    a, b = _clipped(own_counts, spread / width[c])
                    level[i, j, c] = start[c] + a * width[c]
                    noise[i, j, c] = max(b * width[c], 0.29 * grain)
    return level, noise


@compiled
def _first_bin(middle, spread, grain):  # type: ignore[no-untyped-def]
    """Where the first bin begins, and the width of all: whole counts, so that none is favoured."""
    if grain > 0:
        return np.rint(middle - REACH * spread) - 0.5, max(np.floor(spread / 12), 1.0)
    return middle - REACH * spread, max(spread / 12, 1e-12)


@compiled
def _bins(place, values, base, rise, inverse, first, away):  # type: ignore[no-untyped-def]
    """The bin of each value; the outermost ones take what lies beyond, the first what is none."""
    for x in range(values.size):
        at = (np.float32(values[x]) - (base[x] + rise[x] * away)) * inverse[x]
        # Asked this way round a value that is no number (a tile with hardly a sample of a colour)
        # stays inside too.
        at = at if at > np.float32(0.0) else np.float32(0.0)
        at = at if at < np.float32(BINS - 1) else np.float32(BINS - 1)
        place[x] = np.int32(at) + np.int32(first[x])


@compiled
def _clipped(counts, spread):  # type: ignore[no-untyped-def]
    """Mean and deviation [bins] near the median, corrected for the cut.

    spread: rough deviation [bins].
    """
    mean, deviation = REACH * spread + 0.5, spread
    for _ in range(3):
        total, square, kept = 0.0, 0.0, 0
        first = max(int(mean - CUT * deviation), 1)
        last = min(int(mean + CUT * deviation), BINS - 2)
        for b in range(first, last + 1):
            d = b + 0.5 - mean
            total += counts[b] * d
            square += counts[b] * d * d
            kept += counts[b]
        if kept < 8:
            break
        shift = total / kept
        deviation = math.sqrt(max(square / kept - shift * shift, 0.0)) / CUT_SHARE
        mean += shift
    return mean, deviation
