"""Inner loops that tell the noise of single samples from light that neighbours share."""

from __future__ import annotations

import math

import numpy as np

from nightglass.optics.compiled import compiled

CUT = 4.0
"""Deviations beyond which a sample is a hot pixel, or a star that was not found."""
CUT_VARIANCE = 0.99893
"""Variance of a normal distribution cut at four deviations, over that of the whole one."""
LEAST_LEFT = 0.3
"""Share of a tile's samples that must lie between its stars."""


@compiled
def hide_discs(hidden, x_px, y_px, radius_px):  # type: ignore[no-untyped-def]
    """Mark the samples within a radius of each place."""
    rows, columns = hidden.shape
    for k in range(x_px.size):
        x, y, reach = x_px[k], y_px[k], radius_px[k]
        for v in range(max(math.ceil(y - reach), 0), min(math.floor(y + reach) + 1, rows)):
            wide = math.sqrt(max(reach * reach - (v - y) ** 2, 0.0))
            for u in range(max(math.ceil(x - wide), 0), min(math.floor(x + wide) + 1, columns)):
                hidden[v, u] = True


@compiled
def tile_variances(samples, pattern, tiles, side, sky, hidden):  # type: ignore[no-untyped-def]
    """Return (tiles, 3, 3): mean, variance and number of a tile's samples, per colour; and (tiles,)
    the covariance of diagonal neighbours in green. nan where too few samples are left.

    tiles: (n, 2) first row and column. sky: (n, 3, 2) raw level and noise of each colour there.
    hidden: samples that are left out.
    """
    p, q = pattern.shape
    out = np.full((len(tiles), 3, 3), np.nan)
    shared = np.full(len(tiles), np.nan)
    own = np.empty((side, side))
    for k in range(len(tiles)):
        top, left = tiles[k]
        total, count = np.zeros((p, q)), np.zeros((p, q))
        for y in range(side):
            for x in range(side):
                r, s = (top + y) % p, (left + x) % q
                c = pattern[r, s]
                d = samples[top + y, left + x] - sky[k, c, 0]
                inside = not hidden[top + y, left + x] and abs(d) < CUT * sky[k, c, 1]
                own[y, x] = d if inside else np.nan
                if inside:
                    total[r, s] += d
                    count[r, s] += 1
        # Each place of the pattern has its own mean: their black levels differ a little.
        mean = total / np.maximum(count, 1.0)
        for y in range(side):
            for x in range(side):
                own[y, x] -= mean[(top + y) % p, (left + x) % q]
        shared[k] = _diagonal(own, pattern, top, left)
        _moments(own, pattern, top, left, out[k])
        for c in range(3):
            part, n = 0.0, 0
            for r in range(p):
                for s in range(q):
                    if pattern[r, s] == c:
                        part += total[r, s]
                        n += 1
            if n and out[k, c, 2] >= LEAST_LEFT * n / pattern.size * side * side:
                out[k, c, 0] = sky[k, c, 0] + part / out[k, c, 2]
            else:
                out[k, c, 1] = np.nan
    return out, shared


@compiled
def _moments(own, pattern, top, left, out):  # type: ignore[no-untyped-def]
    p, q = pattern.shape
    square, count = np.zeros(3), np.zeros(3)
    for y in range(own.shape[0]):
        for x in range(own.shape[1]):
            d = own[y, x]
            if d == d:
                c = pattern[(top + y) % p, (left + x) % q]
                square[c] += d * d
                count[c] += 1
    out[:, 1] = square / np.maximum(count, 1.0) / CUT_VARIANCE
    out[:, 2] = count


@compiled
def _diagonal(own, pattern, top, left):  # type: ignore[no-untyped-def]
    """Mean product of diagonal neighbours in green."""
    p, q = pattern.shape
    total, count = 0.0, 0
    for y in range(own.shape[0] - 1):
        for x in range(own.shape[1]):
            if pattern[(top + y) % p, (left + x) % q] != 1 or own[y, x] != own[y, x]:
                continue
            for u in (x - 1, x + 1):
                if u < 0 or u >= own.shape[1] or pattern[(top + y + 1) % p, (left + u) % q] != 1:
                    continue
                if own[y + 1, u] == own[y + 1, u]:
                    total += own[y, x] * own[y + 1, u]
                    count += 1
    return total / count if count >= 100 else np.nan


@compiled
def star_squares(samples, pattern, places, aperture, ground):  # type: ignore[no-untyped-def]
    """Return the mean square of stars' light in green, and the mean product of diagonal neighbours.

    places: (n, 2) x, y. aperture: (n, 2) its radius [px] and the light in it, by which brighter
    stars count more, in proportion. ground: (n, 2) raw level and noise of the green sky there.
    """
    p, q = pattern.shape
    square, count, shared, pairs = 0.0, 0.0, 0.0, 0.0
    for k in range(len(places)):
        x, y, reach, light = places[k, 0], places[k, 1], aperture[k, 0], aperture[k, 1]
        level, noise = ground[k]
        top, left = math.floor(y - reach), math.floor(x - reach)
        side = math.ceil(2 * reach) + 1
        inside = top >= 0 and top + side < samples.shape[0]
        # A diagonal neighbour lies one row below, on either side.
        if not inside or left < 1 or left + side >= samples.shape[1]:
            continue
        for v in range(top, top + side):
            for u in range(left, left + side):
                if pattern[v % p, u % q] != 1:
                    continue
                d = samples[v, u] - level
                square += (d * d - noise * noise) / light
                count += 1
                for w in (u - 1, u + 1):
                    if pattern[(v + 1) % p, w % q] == 1:
                        shared += d * (samples[v + 1, w] - level) / light
                        pairs += 1
    return square / max(count, 1.0), shared / max(pairs, 1.0)
