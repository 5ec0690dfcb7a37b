"""Inner loops over a star's aperture and the ring around it."""

from __future__ import annotations

import math

from nightglass.optics.compiled import compiled
from nightglass.sky.tiles import select

INNER, OUTER = 1.2, 2.0
"""Of the ring, in radii of the aperture."""


@compiled
def ring(z, x, y, radius, scale, held):  # type: ignore[no-untyped-def]
    """Return level, scatter and error of the level of the ring about (x, y), in scaled counts.

    scale: (3, p, q), see bulk; held: room for the samples of the ring.
    """
    rows, columns = z.shape
    p = scale.shape[1]
    inner, outer = INNER * radius, OUTER * radius
    # Every so many samples of a large ring: all of it, evenly, in the room there is.
    stride = int(math.pi * (outer * outer - inner * inner) / (0.9 * held.size)) + 1
    count = 0
    for v in range(max(math.ceil(y - outer), 0), min(int(y + outer) + 1, rows)):
        dy = v - y
        wide = math.sqrt(max(outer * outer - dy * dy, 0.0))
        hole = math.sqrt(inner * inner - dy * dy) if abs(dy) < inner else -1.0
        own = scale[0, v % p]
        first, last = max(math.ceil(x - wide), 0), min(math.floor(x + wide), columns - 1)
        skip = math.ceil(x - hole) if hole >= 0 else last + 1
        after = math.floor(x + hole) if hole >= 0 else last
        count = _taken(held, count, z[v], own, first, min(skip - 1, last), stride, v)
        count = _taken(held, count, z[v], own, max(after + 1, first), last, stride, v)
    if count < 12:
        return 0.0, 1.0, 1.0
    part = held[:count]
    upper = select(part, count - 1 - count // 4)
    lower = select(part[: count - count // 4], count // 4)
    scatter = (upper - lower) / 1.349
    # Mean of the middle half: as steady as the median against neighbours, with less noise.
    total, kept = 0.0, 0
    for k in range(count // 4, count - count // 4):
        total += part[k]
        kept += 1
    return total / kept, scatter, scatter * math.sqrt(1.19 / count)


@compiled
def _taken(held, count, row, own, first, last, stride, v):  # type: ignore[no-untyped-def]
    q = own.size
    begin = first if stride == 1 else first + (stride - (first + 7 * v) % stride) % stride
    k, step = begin % q, stride % q
    for u in range(begin, last + 1, stride):
        if count >= held.size:
            break
        held[count] = row[u] * own[k]
        count += 1
        k += step
        if k >= q:
            k -= q
    return count


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
        own, spread, photons = scale[0, v % p], scale[1, v % p], scale[2, v % p]
        row = z[v]
        k = first % q
        s0, s1, s2, e0, e2 = 0.0, 0.0, 0.0, 0.0, 0.0
        for u in range(first, last + 1):
            dx = u - x
            d = dx * dx + dy * dy
            s = row[u] * own[k] - background
            e = spread[k] + photons[k] * row[u]
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
