"""Inner loops over a star's aperture and the ring around it."""

from __future__ import annotations

import math

import numpy as np

from nightglass.optics.compiled import compiled
from nightglass.sky.stars.tiles import select

INNER, OUTER = 1.2, 2.0
"""Of the ring, in radii of the aperture."""
BINS = 64


@compiled
def ring_room(radius):  # type: ignore[no-untyped-def]
    """Return how many samples a ring about an aperture may hold, generously."""
    return int(math.pi * (OUTER * radius + 2.0) ** 2) + 1


@compiled
def ring(z, x, y, radius, scale, held):  # type: ignore[no-untyped-def]
    """Return level, scatter and error of the level of the ring about (x, y), in scaled counts.

    scale: (3, p, q), see bulk; held: room for the samples of the ring, ring_room in size.
    """
    rows, columns = z.shape
    p, q = scale.shape[1], scale.shape[2]
    inner, outer = INNER * radius, OUTER * radius
    count, total, kept = 0, 0.0, 0
    for v in range(max(math.ceil(y - outer), 0), min(int(y + outer) + 1, rows)):
        dy, r = v - y, v % p
        wide = math.sqrt(max(outer * outer - dy * dy, 0.0))
        first, last = max(math.ceil(x - wide), 0), min(math.floor(x + wide), columns - 1)
        hole = math.sqrt(inner * inner - dy * dy) if abs(dy) < inner else -1.0
        # Rows through the hole have two parts; the others one, before a hole beyond their end.
        skip, after = last + 1, last + 1
        if hole >= 0:
            skip = min(max(math.ceil(x - hole), first), last + 1)
            after = min(max(math.floor(x + hole) + 1, first), last + 1)
        k = first % q
        for u in range(first, skip):
            held[count] = z[v, u] * scale[0, r, k]
            count += 1
            k = k + 1 if k < q - 1 else 0
        k = after % q
        for u in range(after, last + 1):
            held[count] = z[v, u] * scale[0, r, k]
            count += 1
            k = k + 1 if k < q - 1 else 0
    if count < 12:
        return 0.0, 1.0, 1.0
    part = held[:count]
    lower, upper = _quartiles(part, math.sqrt(scale[1].mean()))
    # Mean of the middle half: as steady as the median against neighbours, with less noise.
    for k in range(count):
        inside = lower <= part[k] <= upper
        total += float(part[k]) if inside else 0.0
        kept += inside
    scatter = (upper - lower) / 1.349
    return total / max(kept, 1), scatter, scatter * math.sqrt(1.19 / count)


@compiled
def _quartiles(values, noise):  # type: ignore[no-untyped-def]
    """Lower and upper quartile of values about the sky's level, counted in bins of noise / 8."""
    counts = np.zeros(BINS, dtype=np.int32)
    inverse = np.float32(8 / noise)
    for k in range(values.size):
        at = values[k] * inverse + np.float32(BINS // 2)
        # Asked this way round a value that is no number stays inside too.
        at = at if at > np.float32(0.0) else np.float32(0.0)
        counts[int(at if at < np.float32(BINS - 1) else np.float32(BINS - 1))] += 1
    quarter = 0.25 * values.size
    running, lower, upper = 0, 0.0, 0.0
    for b in range(BINS):
        after = running + counts[b]
        if running < quarter <= after:
            lower = b + (quarter - running) / counts[b]
        if running < 3 * quarter <= after:
            upper = b + (3 * quarter - running) / counts[b]
        running = after
    if lower >= 1 and upper <= BINS - 1:
        return (lower - BINS // 2) / inverse, (upper - BINS // 2) / inverse
    # Land, or the skirt of a bright star: far from the sky's level.
    n = values.size
    top = select(values, n - 1 - n // 4)
    return float(select(values[: n - n // 4], n // 4)), float(top)


@compiled
def moments(z, x, y, radius, scale, background):  # type: ignore[no-untyped-def]
    """Return light, its mean place (x, y) from the centre, second moments xx, xy, yy about that.

    Then the variances by noise of the light and of its sums times x and times y. scale: see bulk.
    """
    rows, columns = z.shape
    p, q = scale.shape[1], scale.shape[2]
    flux, sx, sy, sxx, sxy, syy = 0.0, 0.0, 0.0, 0.0, 0.0, 0.0
    variance, vxx, vyy = 0.0, 0.0, 0.0
    whole, rim = (radius - 0.5) ** 2, (radius + 0.5) ** 2
    for v in range(max(math.ceil(y - radius - 0.5), 0), min(int(y + radius + 0.5) + 1, rows)):
        dy = v - y
        wide = math.sqrt(max(rim - dy * dy, 0.0))
        first, last = max(math.ceil(x - wide), 0), min(math.floor(x + wide), columns - 1)
        r = v % p
        k = first % q
        s0, s1, s2, e0, e2 = 0.0, 0.0, 0.0, 0.0, 0.0
        for u in range(first, last + 1):
            dx = u - x
            d = dx * dx + dy * dy
            s = z[v, u] * scale[0, r, k] - background
            e = scale[1, r, k] + scale[2, r, k] * z[v, u]
            if d > whole:
                cover = radius + 0.5 - math.sqrt(d)
                s *= cover
                e *= cover * cover
            s0 += s
            s1 += s * dx
            s2 += s * dx * dx
            e0 += e
            e2 += e * dx * dx
            k = k + 1 if k < q - 1 else 0
        flux += s0
        sx += s1
        sy += s0 * dy
        sxx += s2
        sxy += s1 * dy
        syy += s0 * dy * dy
        variance += e0
        vxx += e2
        vyy += e0 * dy * dy
    if flux <= 0:
        return flux, 0.0, 0.0, 0.0, 0.0, 0.0, variance, vxx, vyy
    mx, my = sx / flux, sy / flux
    xx, xy, yy = sxx / flux - mx * mx, sxy / flux - mx * my, syy / flux - my * my
    return flux, mx, my, xx, xy, yy, variance, vxx, vyy
