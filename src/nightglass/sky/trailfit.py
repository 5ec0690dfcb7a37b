"""Inner loops of the forward fit: two-part spots drawn along each star's own path.

A spot is two elliptical Gaussians, the second one shifted, so that a core, a skirt and a lean can
be told; the pixel's own blur is part of it. A Gaussian drawn evenly along a line of vector T has
a closed form: in coordinates in which it is round and of deviation 1, the line has a length l
and the density is exp(-p^2/2) (Phi(s + l/2) - Phi(s - l/2)) / l across and along the line.
"""

from __future__ import annotations

import math

import numpy as np

from nightglass.optics.compiled import compiled

PARAMETERS = 15
"""log a, b, log c of the first Cholesky factor; the same of the second; shift x, y of the second;
logit of its share; extra motion x, y; shift of red x, y and of blue x, y [px]."""


@compiled
def gaussian_along(dx, dy, factor, tx, ty):  # type: ignore[no-untyped-def]
    """Density at (dx, dy) of a Gaussian with Cholesky factor (a, b, c) drawn along (tx, ty)."""
    a, b, c = factor
    # Lower triangular L = ((a, 0), (b, c)); whitened coordinates are L^-1 (dx, dy).
    x = dx / a
    y = (dy - b * x) / c
    lx = tx / a
    ly = (ty - b * lx) / c
    length = math.sqrt(lx * lx + ly * ly)
    if length < 1e-3:
        return math.exp(-0.5 * (x * x + y * y)) / (2 * math.pi * a * c)
    s = (x * lx + y * ly) / length
    across = (x * ly - y * lx) / length
    if abs(across) > 6.0 or abs(s) > 6.0 + length / 2:
        return 0.0
    root = 0.7071067811865476
    part = 0.5 * (math.erf((s + length / 2) * root) - math.erf((s - length / 2) * root)) / length
    return math.exp(-0.5 * across * across) / math.sqrt(2 * math.pi) * part / (a * c)


@compiled
def spot_density(dx, dy, p, tx, ty):  # type: ignore[no-untyped-def]
    """Density of the two-part spot of parameters p, its centre of light at (0, 0)."""
    first = (math.exp(p[0]), p[1], math.exp(p[2]))
    second = (math.exp(p[3]), p[4], math.exp(p[5]))
    share = 1 / (1 + math.exp(-p[8]))
    mx, my = share * p[6], share * p[7]
    one = gaussian_along(dx + mx, dy + my, first, tx, ty)
    two = gaussian_along(dx + mx - p[6], dy + my - p[7], second, tx, ty)
    return (1 - share) * one + share * two


@compiled
def residuals(p, places, trails, first, samples):  # type: ignore[no-untyped-def]
    """Weighted misses of all samples after fitting light per colour and level of each star.

    places, trails: (stars, 2). first: (stars + 1,) index of each star's first sample. samples:
    (n, 5): x, y, counts above the sky, 1 / error, colour.
    """
    n = samples.shape[0]
    out = np.empty(n)
    shape = np.empty(n)
    for s in range(places.shape[0]):
        tx, ty = trails[s, 0] + p[9], trails[s, 1] + p[10]
        normal = np.zeros((4, 4))
        right = np.zeros(4)
        for k in range(first[s], first[s + 1]):
            c = int(samples[k, 4])
            dx = samples[k, 0] - places[s, 0]
            dy = samples[k, 1] - places[s, 1]
            if c == 0:
                dx, dy = dx - p[11], dy - p[12]
            elif c == 2:
                dx, dy = dx - p[13], dy - p[14]
            g = spot_density(dx, dy, p, tx, ty)
            shape[k] = g
            w2 = samples[k, 3] * samples[k, 3]
            normal[c, c] += w2 * g * g
            normal[c, 3] += w2 * g
            normal[3, 3] += w2
            right[c] += w2 * g * samples[k, 2]
            right[3] += w2 * samples[k, 2]
        # Colours meet only in the level: eliminate them one by one.
        top, bottom = right[3], normal[3, 3]
        for c in range(3):
            if normal[c, c] > 0:
                top -= normal[c, 3] * right[c] / normal[c, c]
                bottom -= normal[c, 3] * normal[c, 3] / normal[c, c]
        level = top / bottom if bottom > 1e-9 * normal[3, 3] else 0.0
        light = np.zeros(3)
        for c in range(3):
            if normal[c, c] > 0:
                light[c] = (right[c] - normal[c, 3] * level) / normal[c, c]
        for k in range(first[s], first[s + 1]):
            c = int(samples[k, 4])
            out[k] = (samples[k, 2] - light[c] * shape[k] - level) * samples[k, 3]
    return out


@compiled
def recentre(p, places, trails, first, samples):  # type: ignore[no-untyped-def]
    """Move each star to where its misses are least: one Gauss-Newton step, at most half a pixel."""
    step = 0.02
    base = residuals(p, places, trails, first, samples)
    moved_x, moved_y = places.copy(), places.copy()
    moved_x[:, 0] += step
    moved_y[:, 1] += step
    in_x = residuals(p, moved_x, trails, first, samples)
    in_y = residuals(p, moved_y, trails, first, samples)
    out = places.copy()
    for s in range(places.shape[0]):
        xx, xy, yy, rx, ry = 0.0, 0.0, 0.0, 0.0, 0.0
        for k in range(first[s], first[s + 1]):
            jx, jy = (in_x[k] - base[k]) / step, (in_y[k] - base[k]) / step
            xx += jx * jx
            xy += jx * jy
            yy += jy * jy
            rx += jx * base[k]
            ry += jy * base[k]
        det = xx * yy - xy * xy
        if det > 1e-12 * xx * yy:
            ux, uy = -(yy * rx - xy * ry) / det, -(xx * ry - xy * rx) / det
            size = math.sqrt(ux * ux + uy * uy)
            if size > 0.5:
                ux, uy = ux * 0.5 / size, uy * 0.5 / size
            out[s, 0] += ux
            out[s, 1] += uy
    return out


@compiled
def spot_image(p, side, fine):  # type: ignore[no-untyped-def]
    """The spot without any trail, `fine` samples per pixel, centre of light in the middle."""
    image = np.empty((side, side))
    middle = side // 2
    for i in range(side):
        for j in range(side):
            image[i, j] = spot_density((j - middle) / fine, (i - middle) / fine, p, 0.0, 0.0)
    return image
