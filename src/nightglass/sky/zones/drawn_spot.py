"""A spot of two parts drawn along a line, with its derivatives: inner loops of the forward fit.

A spot is two elliptical Gaussians, the second one shifted, so that a core, a skirt and a lean can
be told; the pixel's own blur is part of it. A Gaussian drawn evenly along a line of vector T has
a closed form: in coordinates in which it is round and of deviation 1, the line has a length l
and the density is exp(-p^2/2) (Phi(s + l/2) - Phi(s - l/2)) / l across and along the line. Its
derivatives by the covariance are half of those twice by the place (heat equation).
"""

from __future__ import annotations

import math

import numpy as np

from nightglass.optics.compiled import compiled

SHAPE = 9
"""Parameters of a spot: log a, b, log c of the Cholesky factor ((a, 0), (b, c)) of its first part,
the same of the second; shift x, y of the second; logit of the second's share [px]."""
DENSITY, BY_X, BY_Y, BY_SHAPE, BY_TX, BY_TY = 0, 1, 2, 3, 12, 13
"""Columns of spot_derivatives; BY_SHAPE is the first of SHAPE."""
COLUMNS = 14


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
def _along(s, length):  # type: ignore[no-untyped-def]
    """G, G', G'' of the drawn profile at s, and M, M' of its mean over the line times u."""
    root, norm = 0.7071067811865476, 0.3989422804014327
    if length < 0.02:
        g = norm * math.exp(-0.5 * s * s)
        return g, -s * g, (s * s - 1) * g, length / 12 * s * g, length / 12 * (1 - s * s) * g
    high, low = s + 0.5 * length, s - 0.5 * length
    f_high = norm * math.exp(-0.5 * high * high)
    f_low = norm * math.exp(-0.5 * low * low)
    mass = 0.5 * (math.erf(high * root) - math.erf(low * root))
    first = (f_high - f_low) / length
    second = (low * f_low - high * f_high) / length
    mean = (s * mass + f_high - f_low) / (length * length)
    slope = (mass - 0.5 * length * (f_high + f_low)) / (length * length)
    return mass / length, first, second, mean, slope


@compiled
def part_along(dx, dy, la, b, lc, tx, ty, out):  # type: ignore[no-untyped-def]
    """Fill out with density, gradient, derivative by log a, b, log c and by the line's ends."""
    a, c = math.exp(la), math.exp(lc)
    x = dx / a
    y = (dy - b * x) / c
    lx = tx / a
    ly = (ty - b * lx) / c
    length = math.sqrt(lx * lx + ly * ly)
    if length > 1e-9:
        ex, ey = lx / length, ly / length
    else:
        ex, ey = 1.0, 0.0
    s = x * ex + y * ey
    across = y * ex - x * ey
    for k in range(8):
        out[k] = 0.0
    if abs(across) > 6.0 or abs(s) > 6.0 + length / 2:
        return
    g, g1, g2, mean, slope = _along(s, length)
    f = 0.3989422804014327 * math.exp(-0.5 * across * across) / (a * c)
    # Derivatives along and across the line, turned to whitened x, y, then to the frame's.
    ds, dp = f * g1, -across * f * g
    dss, dsp, dpp = f * g2, -across * f * g1, (across * across - 1) * f * g
    zx, zy = ds * ex - dp * ey, ds * ey + dp * ex
    zxx = dss * ex * ex - 2 * dsp * ex * ey + dpp * ey * ey
    zxy = dss * ex * ey + dsp * (ex * ex - ey * ey) - dpp * ex * ey
    zyy = dss * ey * ey + 2 * dsp * ex * ey + dpp * ex * ex
    # d/dx = zx / a - zy b / (a c), d/dy = zy / c.
    k = b / (a * c)
    hxx = zxx / (a * a) - 2 * zxy * k / a + zyy * k * k
    hxy = zxy / (a * c) - zyy * k / c
    hyy = zyy / (c * c)
    out[0] = f * g
    out[1] = zx / a - zy * k
    out[2] = zy / c
    out[3] = a * a * hxx + a * b * hxy
    out[4] = a * hxy + b * hyy
    out[5] = c * c * hyy
    along, turned = -f * slope, across * f * mean
    wx, wy = along * ex - turned * ey, along * ey + turned * ex
    out[6] = wx / a - wy * k
    out[7] = wy / c


@compiled
def spot_derivatives(dx, dy, p, tx, ty, one, two, out):  # type: ignore[no-untyped-def]
    """Fill out (COLUMNS) with the density of a drawn spot and its derivatives.

    Its centre of light lies at (0, 0). one, two: room of 8 for the parts. BY_X and BY_Y are by
    (dx, dy); BY_TX and BY_TY by the line's vector.
    """
    share = 1 / (1 + math.exp(-p[8]))
    mx, my = share * p[6], share * p[7]
    part_along(dx + mx, dy + my, p[0], p[1], p[2], tx, ty, one)
    part_along(dx + mx - p[6], dy + my - p[7], p[3], p[4], p[5], tx, ty, two)
    rest = 1 - share
    out[0] = rest * one[0] + share * two[0]
    out[1] = rest * one[1] + share * two[1]
    out[2] = rest * one[2] + share * two[2]
    for k in range(3):
        out[3 + k] = rest * one[3 + k]
        out[6 + k] = share * two[3 + k]
    out[9] = rest * share * (one[1] - two[1])
    out[10] = rest * share * (one[2] - two[2])
    by_share = two[0] - one[0]
    by_share += p[6] * (rest * one[1] + share * two[1]) + p[7] * (rest * one[2] + share * two[2])
    out[11] = by_share * share * rest
    out[12] = rest * one[6] + share * two[6]
    out[13] = rest * one[7] + share * two[7]


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
def spot_image(p, side, fine):  # type: ignore[no-untyped-def]
    """The spot without any trail, `fine` samples per pixel, centre of light in the middle."""
    image = np.empty((side, side))
    middle = side // 2
    for i in range(side):
        for j in range(side):
            image[i, j] = spot_density((j - middle) / fine, (i - middle) / fine, p, 0.0, 0.0)
    return image
