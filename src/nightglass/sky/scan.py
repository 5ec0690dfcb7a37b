"""Inner loops that look for points of light: hot pixels, matched filter, peaks.

All work on the mosaic in units of its noise (see skylevel.in_noise_units): white noise of
deviation 1, whatever the colour, so that one filter fits all samples.
"""

from __future__ import annotations

import math

import numpy as np

from nightglass.optics.compiled import compiled

HOT_LEAST = 5.0
"""Deviations from which a single sample is looked at as a hot pixel."""
HOT_NEIGHBOURS = 0.75
"""A star of FWHM 1.3 px or more puts at least 1.5 times its brightest sample into the eight
neighbours, a hot pixel nothing."""
HOT_NEIGHBOURS_BUT_ONE = 0.45
"""The same without the brightest neighbour: two hot pixels side by side."""


@compiled
def drop_hot_pixels(z):  # type: ignore[no-untyped-def]
    """Replace single bright samples by the mean of their neighbours; return their (y, x)."""
    rows, columns = z.shape
    places = np.empty((1024, 2), dtype=np.int32)
    count = 0
    for y in range(rows):
        for x in range(columns):
            if z[y, x] < HOT_LEAST:
                continue
            total = np.float32(0.0)
            largest = np.float32(-1e30)
            seen = 0
            for v in range(max(y - 1, 0), min(y + 2, rows)):
                for u in range(max(x - 1, 0), min(x + 2, columns)):
                    if u != x or v != y:
                        total += z[v, u]
                        largest = max(largest, z[v, u])
                        seen += 1
            alone = total < HOT_NEIGHBOURS * z[y, x]
            if alone or total - largest < HOT_NEIGHBOURS_BUT_ONE * z[y, x]:
                if count == places.shape[0]:
                    larger = np.empty((2 * count, 2), dtype=np.int32)
                    larger[:count] = places
                    places = larger
                places[count, 0] = y
                places[count, 1] = x
                count += 1
    for k in range(count):
        z[places[k, 0], places[k, 1]] = np.float32(0.0)
    return places[:count].copy()


@compiled
def matched(z, sigma_px):  # type: ignore[no-untyped-def]
    """Return the signal-to-noise map of a Gaussian matched filter over z, float32."""
    rows, columns = z.shape
    reach = math.ceil(3 * sigma_px)
    weight = np.empty(2 * reach + 1, dtype=np.float32)
    square = 0.0
    for k in range(2 * reach + 1):
        weight[k] = math.exp(-0.5 * ((k - reach) / sigma_px) ** 2)
        square += weight[k] * weight[k]
    # Two passes: the noise of the sum of squares of both must be 1.
    for k in range(2 * reach + 1):
        weight[k] /= math.sqrt(square)
    out = np.empty((rows, columns), dtype=np.float32)
    line = np.zeros(columns + 2 * reach, dtype=np.float32)
    middle = line[reach : reach + columns]
    for y in range(rows):
        middle[:] = 0.0
        for k in range(-reach, reach + 1):
            v = y + k
            if 0 <= v < rows:
                w = weight[k + reach]
                source = z[v]
                for x in range(columns):
                    middle[x] += w * source[x]
        target = out[y]
        target[:] = 0.0
        for k in range(2 * reach + 1):
            w = weight[k]
            for x in range(columns):
                target[x] += w * line[x + k]
    return out


@compiled
def peaks(signal, least):  # type: ignore[no-untyped-def]
    """Return (y, x) of the local maxima (3 x 3) at or above `least`, off the outermost pixels."""
    rows, columns = signal.shape
    places = np.empty((4096, 2), dtype=np.int32)
    count = 0
    for y in range(1, rows - 1):
        for x in range(1, columns - 1):
            s = signal[y, x]
            if s < least:
                continue
            if s < signal[y, x - 1] or s <= signal[y, x + 1]:
                continue
            if s < signal[y - 1, x] or s <= signal[y + 1, x]:
                continue
            if s < signal[y - 1, x - 1] or s < signal[y - 1, x + 1]:
                continue
            if s <= signal[y + 1, x - 1] or s <= signal[y + 1, x + 1]:
                continue
            if count == places.shape[0]:
                larger = np.empty((2 * count, 2), dtype=np.int32)
                larger[:count] = places
                places = larger
            places[count, 0] = y
            places[count, 1] = x
            count += 1
    return places[:count].copy()


@compiled
def strongest_within(order, places, radius_px, columns):  # type: ignore[no-untyped-def]
    """Return which peaks have no stronger one nearer than radius_px (bool), by order of strength.

    order: indices from the strongest down; places: (n, 2) rows and columns.
    """
    n = order.size
    kept = np.zeros(n, dtype=np.bool_)
    cell = max(radius_px, 1.0)
    across = int(columns / cell) + 3
    deep = 0
    for k in range(n):
        deep = max(deep, places[k, 0])
    down = int(deep / cell) + 3
    first = np.full(across * down, -1, dtype=np.int64)
    following = np.full(n, -1, dtype=np.int64)
    for k in order:
        y, x = places[k, 0], places[k, 1]
        cy, cx = int(y / cell) + 1, int(x / cell) + 1
        free = True
        for b in range(cy - 1, cy + 2):
            for a in range(cx - 1, cx + 2):
                m = first[b * across + a]
                while m >= 0 and free:
                    dy, dx = places[m, 0] - y, places[m, 1] - x
                    if dy * dy + dx * dx < radius_px * radius_px:
                        free = False
                    m = following[m]
        if free:
            kept[k] = True
            place = cy * across + cx
            following[k] = first[place]
            first[place] = k
    return kept
