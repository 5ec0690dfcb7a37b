"""Inner loops that look for points of light in one pass over a mosaic, row by row.

Each row is brought over the sky in units of its noise (white noise of deviation 1, whatever the
colour, so that one filter fits all samples), freed of hot pixels, filtered and searched while it
is still in the processor's cache. With r the filter's reach, when row y is read:

    row y          z = (sample - level) / noise, level between the knots of the sky
    row y - 1      hot pixels are found: it has both its neighbours now
    row y - 2      those found one row earlier are set to 0
    row y - 2 - r  filtered: signal(v, u) = sum_k sum_l w_k w_l z(v + k, u + l), columns first
    row y - 3 - r  searched: a peak is the largest of its 3 x 3 signals; three rows are kept

The weights w_k are exp(-k^2 / 2 sigma^2) / sqrt(sum exp(-k^2 / sigma^2)): white noise of
deviation 1 stays 1, and the signal at a star of that width is its signal-to-noise.
"""

from __future__ import annotations

import math

import numpy as np

from nightglass.optics.compiled import compiled

HOT_LEAST = 6.0
"""Deviations from which a single sample is looked at as a hot pixel; fainter ones are no stars to
the filter, which makes a quarter of them."""
HOT_NEIGHBOURS, STAR_NEIGHBOURS, NOISE_OF_ALL = 0.75, 1.1, 6.5
"""A star of FWHM 1.3 px or more puts at least 1.5 times its brightest sample into the eight
neighbours, 1.1 times in units of noise where red and blue show half of its light; a hot pixel puts
nothing there. 2.3 deviations of their sum are left to noise."""
HOT_NEIGHBOURS_BUT_ONE, STAR_NEIGHBOURS_BUT_ONE, NOISE_OF_ALL_BUT_ONE = 0.45, 0.8, 7.5
"""The same without the brightest neighbour: two hot pixels side by side."""
BLOCK = 32
"""Samples that are asked together whether any is bright."""


@compiled
def filter_weights(sigma_px):  # type: ignore[no-untyped-def]
    """Return one half of a Gaussian matched filter, middle first; noise 1 stays 1 in both passes.

    It ends at two deviations: what lies beyond adds 0.2 % to the signal-to-noise.
    """
    reach = max(2, round(2 * sigma_px))
    half = np.empty(reach + 1, dtype=np.float32)
    square = 0.0
    for k in range(reach + 1):
        half[k] = math.exp(-0.5 * (k / sigma_px) ** 2)
        square += half[k] * half[k] * (1 if k == 0 else 2)
    return half / np.float32(math.sqrt(square))


@compiled
def search(samples, pattern, knots, knot_noise, knot_px, weights, least):  # type: ignore[no-untyped-def]
    """Return z, peaks (y, x), their heights, and hot pixels (y, x) of a mosaic.

    z: samples over the sky in units of its noise, float32, hot pixels set to 0. Peaks: local
    maxima (3 x 3) of the filtered z at or above `least`, off the outermost pixels. knots,
    knot_noise: raw counts (rows, columns, 3) at the corners of squares of knot_px.
    """
    rows, columns = samples.shape
    z = np.empty((rows, columns), dtype=np.float32)
    p = pattern.shape[0]
    lines = np.empty((p, 3, columns), dtype=np.float32)
    reach = weights.size - 1
    middle = np.zeros(columns + 2 * reach, dtype=np.float32)
    signal = np.zeros((3, columns), dtype=np.float32)
    nothing = np.zeros(columns, dtype=np.float32)
    found, hot = _room(4096), _room(1024)
    heights = np.empty(found.shape[0], dtype=np.float32)
    # Of one type from the start: a literal 0 has one of its own, with loops of its own.
    count, dropped, done = np.int64(0), np.int64(0), np.int64(0)
    for y in range(rows + reach + 3):
        if y < rows:
            if y % knot_px == 0:
                _lines(lines, pattern, knots, knot_noise, y // knot_px, knot_px)
            own = lines[y % p]
            share = np.float32((y % knot_px + 0.5) / knot_px)
            _normalise(z[y], samples[y], own[0], own[1], own[2], share)
        # A row is looked at once the next is there; hot pixels go once the row after is judged.
        if 0 <= y - 1 < rows:
            found_before = dropped
            if dropped + columns > hot.shape[0]:
                hot = _enlarged(hot, dropped + columns)
            dropped = _hot(z, y - 1, hot, dropped)
            while done < found_before:
                z[hot[done, 0], hot[done, 1]] = np.float32(0.0)
                done += 1
        elif y - 1 == rows:
            while done < dropped:
                z[hot[done, 0], hot[done, 1]] = np.float32(0.0)
                done += 1
        v = y - 2 - reach
        if 0 <= v < rows:
            _filter(z, v, weights, middle, signal[v % 3], nothing)
        if 1 <= v - 1 < rows - 1:
            if count + columns > heights.size:
                found = _enlarged(found, count + columns)
                more = np.empty(found.shape[0] - heights.size, np.float32)
                heights = np.concatenate((heights, more))
            count = _peaks(
                signal[(v - 2) % 3], signal[(v - 1) % 3], signal[v % 3], v - 1, least,
                found, heights, count,
            )  # fmt: skip
    return z, found[:count].copy(), heights[:count].copy(), hot[:dropped].copy()


@compiled
def search_again(z, weights, least):  # type: ignore[no-untyped-def]
    """Return the peaks (y, x) of z under another filter, and their heights; see search."""
    rows, columns = z.shape
    reach = weights.size - 1
    middle = np.zeros(columns + 2 * reach, dtype=np.float32)
    signal = np.zeros((3, columns), dtype=np.float32)
    nothing = np.zeros(columns, dtype=np.float32)
    found = _room(4096)
    heights = np.empty(found.shape[0], dtype=np.float32)
    count = np.int64(0)
    for v in range(rows):
        _filter(z, v, weights, middle, signal[v % 3], nothing)
        if v < 2:
            continue
        if count + columns > heights.size:
            found = _enlarged(found, count + columns)
            heights = np.concatenate((heights, np.empty(found.shape[0] - heights.size, np.float32)))
        count = _peaks(
            signal[(v - 2) % 3], signal[(v - 1) % 3], signal[v % 3], v - 1, least,
            found, heights, count,
        )  # fmt: skip
    return found[:count].copy(), heights[:count].copy()


@compiled
def _room(n):  # type: ignore[no-untyped-def]
    return np.empty((n, 2), dtype=np.int32)


@compiled
def _enlarged(places, least):  # type: ignore[no-untyped-def]
    larger = np.empty((max(2 * places.shape[0], least), 2), dtype=np.int32)
    larger[: places.shape[0]] = places
    return larger


@compiled
def _lines(lines, pattern, knots, knot_noise, i, knot_px):  # type: ignore[no-untyped-def]
    """Level at knot row i, its change to the next, and 1 / noise, for each row of the pattern."""
    p, q = pattern.shape
    columns = lines.shape[2]
    for j in range((columns + knot_px - 1) // knot_px):
        left = j * knot_px
        right = min(left + knot_px, columns)
        for r in range(p):
            for k in range(q):
                c = pattern[r, (left + k) % q]
                a0, a1 = knots[i, j, c], knots[i, j + 1, c]
                b0, b1 = knots[i + 1, j, c], knots[i + 1, j + 1, c]
                n0 = 2 / (knot_noise[i, j, c] + knot_noise[i + 1, j, c])
                n1 = 2 / (knot_noise[i, j + 1, c] + knot_noise[i + 1, j + 1, c])
                for x in range(left + k, right, q):
                    t = np.float32((x - left + 0.5) / knot_px)
                    level = a0 + t * (a1 - a0)
                    lines[r, 0, x] = level
                    lines[r, 1, x] = b0 + t * (b1 - b0) - level
                    lines[r, 2, x] = n0 + t * (n1 - n0)


@compiled
def _normalise(out, samples, level, change, inverse, share):  # type: ignore[no-untyped-def]
    for x in range(out.size):
        out[x] = (np.float32(samples[x]) - (level[x] + share * change[x])) * inverse[x]


@compiled
def _hot(z, y, hot, count):  # type: ignore[no-untyped-def]
    """Note the single bright samples of a row; return how many are noted in all."""
    rows, columns = z.shape
    row = z[y]
    for left in range(0, columns, BLOCK):
        right = min(left + BLOCK, columns)
        if not _any_above(row[left:right], np.float32(HOT_LEAST)):
            continue
        for x in range(left, right):
            own = row[x]
            if own < HOT_LEAST:
                continue
            total = np.float32(0.0)
            largest = np.float32(-1e30)
            for v in range(max(y - 1, 0), min(y + 2, rows)):
                for u in range(max(x - 1, 0), min(x + 2, columns)):
                    if u != x or v != y:
                        total += z[v, u]
                        largest = max(largest, z[v, u])
            least = min(HOT_NEIGHBOURS * own, STAR_NEIGHBOURS * own - NOISE_OF_ALL)
            but_one = min(
                HOT_NEIGHBOURS_BUT_ONE * own, STAR_NEIGHBOURS_BUT_ONE * own - NOISE_OF_ALL_BUT_ONE
            )
            if total < least or total - largest < but_one:
                hot[count, 0] = y
                hot[count, 1] = x
                count += 1
    return count


@compiled
def _any_above(values, least):  # type: ignore[no-untyped-def]
    """Whether any value reaches `least`: counted, which takes many at once, not tested singly."""
    above = 0
    for x in range(values.size):
        above += values[x] >= least
    return above > 0


@compiled
def _filter(z, y, weights, middle, out, nothing):  # type: ignore[no-untyped-def]
    """One row of the filtered z: down the columns into `middle`, then along the row into `out`."""
    rows, columns = z.shape
    reach = weights.size - 1
    inner = middle[reach : reach + columns]
    _scaled(inner, z[y], weights[0])
    for k in range(1, reach + 1, 2):
        a = z[y - k] if y >= k else nothing
        b = z[y + k] if y + k < rows else nothing
        if k < reach:
            c = z[y - k - 1] if y >= k + 1 else nothing
            d = z[y + k + 1] if y + k + 1 < rows else nothing
            _four_added(inner, a, b, c, d, weights[k], weights[k + 1])
        else:
            _two_added(inner, a, b, weights[k])
    _scaled(out, inner, weights[0])
    for k in range(1, reach + 1, 2):
        a, b = middle[reach - k :], middle[reach + k :]
        if k < reach:
            c, d = middle[reach - k - 1 :], middle[reach + k + 1 :]
            _four_added(out, a, b, c, d, weights[k], weights[k + 1])
        else:
            _two_added(out, a, b, weights[k])


@compiled
def _scaled(out, a, w):  # type: ignore[no-untyped-def]
    for x in range(out.size):
        out[x] = w * a[x]


@compiled
def _two_added(out, a, b, w):  # type: ignore[no-untyped-def]
    for x in range(out.size):
        out[x] += w * (a[x] + b[x])


@compiled
def _four_added(out, a, b, c, d, w, v):  # type: ignore[no-untyped-def]
    for x in range(out.size):
        out[x] += w * (a[x] + b[x]) + v * (c[x] + d[x])


@compiled
def _peaks(above, own, below, y, least, found, heights, count):  # type: ignore[no-untyped-def]
    """Note the local maxima of a row of the signal; return how many are noted in all."""
    for left in range(1, own.size - 1, BLOCK):
        right = min(left + BLOCK, own.size - 1)
        if not _any_above(own[left:right], least):
            continue
        for x in range(left, right):
            s = own[x]
            if s < least:
                continue
            if s < own[x - 1] or s <= own[x + 1] or s < above[x] or s <= below[x]:
                continue
            if s < above[x - 1] or s < above[x + 1] or s <= below[x - 1] or s <= below[x + 1]:
                continue
            found[count, 0] = y
            found[count, 1] = x
            heights[count] = s
            count += 1
    return count


@compiled
def strongest_within(order, places, radius_px):  # type: ignore[no-untyped-def]
    """Return which peaks have no stronger one nearer than radius_px (bool), by order of strength.

    order: indices from the strongest down; places: (n, 2) rows and columns.
    """
    n = order.size
    kept = np.zeros(n, dtype=np.bool_)
    cell = max(radius_px, 1.0)
    deep, wide = 0, 0
    for k in range(n):
        deep, wide = max(deep, places[k, 0]), max(wide, places[k, 1])
    across, down = int(wide / cell) + 3, int(deep / cell) + 3
    first = np.full(across * down, -1, dtype=np.int32)
    following = np.full(n, -1, dtype=np.int32)
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
