"""Inner loop that measures how far the light of a star reaches, along and across its long axis."""

from __future__ import annotations

import math

import numpy as np

from nightglass.optics.compiled import compiled

BIN_PX = 0.125
TAIL = 0.05
"""Share of the light left out on either side."""
GAUSSIAN_DENSITY = 0.3393
"""Light per px at the ends of a Gaussian's central 90 %, times its length."""
AREA_OUTSIDE = 0.58
"""Share of the aperture's area beyond the ends, for a radius of 1.5 lengths."""


@compiled
def spans(z, aperture, scale, background, profile):  # type: ignore[no-untyped-def]
    """Return the central 90 % of the light along an angle and across it [px]; 0 without light.

    aperture: (x, y, radius, angle in radians). scale: see bulk. profile: (2, bins) zeros, left as
    zeros.
    """
    x, y, radius, angle = aperture
    rows, columns = z.shape
    p, q = scale.shape[1], scale.shape[2]
    cosine, sine = math.cos(angle) / BIN_PX, math.sin(angle) / BIN_PX
    half = 0.5 * max(abs(cosine), abs(sine))
    start = (radius + 1.0) / BIN_PX
    bins = min(int(2 * start) + 2, profile.shape[1] - 1)
    whole, rim = (radius - 0.5) ** 2, (radius + 0.5) ** 2
    # Differences of the profiles: each sample spreads evenly over its own projected width.
    for v in range(max(math.ceil(y - radius - 0.5), 0), min(int(y + radius + 0.5) + 1, rows)):
        dy = v - y
        wide = math.sqrt(max(rim - dy * dy, 0.0))
        first, last = max(math.ceil(x - wide), 0), min(math.floor(x + wide), columns - 1)
        r = v % p
        k = first % q
        for u in range(first, last + 1):
            dx = u - x
            d = dx * dx + dy * dy
            s = z[v, u] * scale[0, r, k] - background
            k = k + 1 if k < q - 1 else 0
            if d > whole:
                s *= radius + 0.5 - math.sqrt(d)
            _spread(profile[0], dx * cosine + dy * sine + start, half, s)
            _spread(profile[1], dy * cosine - dx * sine + start, half, s)
    # The samples hold the pixel's blur already, the boxes add it once more: in squares it goes.
    box = 0.9 * (2 * half + 1) ** 2 * BIN_PX**2
    length, width = _span(profile[0], bins), _span(profile[1], bins)
    profile[:, : bins + 1] = 0.0
    return _without(length, box), _without(width, box)


@compiled
def _without(length, box):  # type: ignore[no-untyped-def]
    """Take the variance of a box (times 3.29^2, the square of the central 90 %) off a length."""
    return math.sqrt(max(length * length - box, 0.25 * length * length))


@compiled
def _spread(light, at, half, s):  # type: ignore[no-untyped-def]
    first = max(int(at - half), 0)
    last = min(int(at + half) + 1, light.size - 1)
    share = s / (last - first)
    light[first] += share
    light[last] -= share


@compiled
def _span(light, bins):  # type: ignore[no-untyped-def]
    """Length [px] of one profile of differences, which is summed up in place."""
    density, running = 0.0, 0.0
    for b in range(bins):
        density += light[b]
        running += density
        light[b] = running
    if running <= 0:
        return 0.0
    low, high = TAIL * running, (1 - TAIL) * running
    # Noise lets the sum cross a share more than once: the mean of first and last.
    a = 0
    while light[a] < low:
        a += 1
    b = a
    for k in range(a + 1, bins):
        if light[k - 1] < low <= light[k]:
            b = k
        if light[k] >= high:
            break
    d = bins - 1
    while d > 0 and light[d - 1] >= high:
        d -= 1
    c = d
    for k in range(d - 1, b, -1):
        if light[k - 1] < high <= light[k]:
            c = k
    begin = 0.5 * (_between(light, a, low) + _between(light, b, low))
    end = 0.5 * (_between(light, c, high) + _between(light, d, high))
    return max(end - begin, 0.0) * BIN_PX


@compiled
def _between(light, k, level):  # type: ignore[no-untyped-def]
    before = light[k - 1] if k > 0 else 0.0
    return k + (level - before) / max(light[k] - before, 1e-12)


@compiled
def span_error(length, light, sky_variance, level_err, radius):  # type: ignore[no-untyped-def]
    """Return the error of a length by noise [px].

    A change of light outside the ends moves them by 0.9 of it, one inside by 0.1 of it, over the
    light per px at the ends. light: what apertures.moments gives; sky_variance: per px of area.
    """
    area = math.pi * radius * radius
    flux = light[0]
    if not (flux > 0 and length > 0):
        return np.nan
    sky = sky_variance * area
    photons = max(light[6] - sky, 0.0)
    outside = AREA_OUTSIDE * sky + 2 * TAIL * photons
    inside = (1 - AREA_OUTSIDE) * sky + (1 - 2 * TAIL) * photons
    power = 0.81 * outside + 0.01 * inside + (0.48 * level_err * area) ** 2
    return math.sqrt(power) * length / (GAUSSIAN_DENSITY * flux)


@compiled
def method_error(length):  # type: ignore[no-untyped-def]
    """Return what the place between the samples adds to the error [px]: design/star_errors.py."""
    return 0.028 + 0.037 * math.exp(3.1 - length)
