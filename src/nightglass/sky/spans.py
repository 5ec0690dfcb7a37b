"""Inner loop that measures how far the light of a star reaches, along and across its long axis."""

from __future__ import annotations

import math

from nightglass.optics.compiled import compiled

BIN_PX = 0.1
TAIL = 0.05
"""Share of the light left out on either side."""
GAUSSIAN_DENSITY = 0.3393
"""Light per px at the ends of a Gaussian's central 90 %, times its length."""


@compiled
def spans(z, aperture, scale, background, level_err, profile):  # type: ignore[no-untyped-def]
    """Return the central 90 % of the light along an angle and across it, and their errors by noise.

    aperture: (x, y, radius, angle in radians). scale: see bulk. background, level_err: of the
    ring. profile: (4, bins) zeros, left as zeros. Lengths are 0 where there is no light.
    """
    x, y, radius, angle = aperture
    rows, columns = z.shape
    p, q = scale.shape[1], scale.shape[2]
    cosine, sine = math.cos(angle), math.sin(angle)
    half = 0.5 * max(abs(cosine), abs(sine)) / BIN_PX
    start = -radius - 1.0
    bins = min(int(2 * (radius + 1.0) / BIN_PX) + 2, profile.shape[1])
    whole, rim = (radius - 0.5) ** 2, (radius + 0.5) ** 2
    # Differences of the profiles: each sample spreads evenly over its own projected width.
    for v in range(max(math.ceil(y - radius - 0.5), 0), min(int(y + radius + 0.5) + 1, rows)):
        dy = v - y
        wide = math.sqrt(max(rim - dy * dy, 0.0))
        first, last = max(math.ceil(x - wide), 0), min(math.floor(x + wide), columns - 1)
        own, spread, photons = scale[0, v % p], scale[1, v % p], scale[2, v % p]
        row = z[v]
        k = first % q
        for u in range(first, last + 1):
            dx = u - x
            d = dx * dx + dy * dy
            s = row[u] * own[k] - background
            e = spread[k] + photons[k] * row[u]
            k = k + 1 if k < q - 1 else 0
            if d > whole:
                cover = radius + 0.5 - math.sqrt(d)
                s *= cover
                e *= cover * cover
            _spread(profile[0], profile[2], (dx * cosine + dy * sine - start) / BIN_PX, half, s, e)
            _spread(profile[1], profile[3], (dy * cosine - dx * sine - start) / BIN_PX, half, s, e)
    area_err = level_err * math.pi * radius * radius
    length, length_err = _span(profile[0], profile[2], bins, area_err)
    width, width_err = _span(profile[1], profile[3], bins, area_err)
    profile[:, : bins + 1] = 0.0
    return length, width, length_err, width_err


@compiled
def _spread(light, variance, at, half, s, e):  # type: ignore[no-untyped-def]
    first = max(int(at - half), 0)
    last = min(max(int(at + half) + 1, first + 1), light.size - 1)
    share = 1.0 / (last - first)
    light[first] += share * s
    light[last] -= share * s
    variance[first] += share * e
    variance[last] -= share * e


@compiled
def _span(light, variance, bins, area_err):  # type: ignore[no-untyped-def]
    """Length [px] and its error of one profile of differences."""
    total, noise, density, rough = 0.0, 0.0, 0.0, 0.0
    for b in range(bins):
        density += light[b]
        total += density
        rough += variance[b]
        noise += rough
    if total <= 0:
        return 0.0, math.nan
    # Noise lets the running sum cross a share more than once: the mean of first and last.
    low, tail_low = _crossing(light, variance, bins, TAIL * total)
    high, tail_high = _crossing(light, variance, bins, (1 - TAIL) * total)
    length = (high - low) * BIN_PX
    if length <= 0:
        return 0.0, math.nan
    # A change of light outside moves the ends by 0.9 of it, inside by 0.1, over what lies there.
    outside = max(tail_low + noise - tail_high, 0.0)
    inside = max(tail_high - tail_low, 0.0)
    at_ends = GAUSSIAN_DENSITY / length
    power = 0.81 * outside + 0.01 * inside + (0.48 * area_err) ** 2
    return length, math.sqrt(max(power, 0.0)) / (at_ends * total)


@compiled
def _crossing(light, variance, bins, level):  # type: ignore[no-untyped-def]
    """Where the running sum of a profile crosses a level, and the variance up to there."""
    density, running, rough, noise = 0.0, 0.0, 0.0, 0.0
    first, last, noise_first, noise_last = -1.0, -1.0, 0.0, 0.0
    for b in range(bins):
        density += light[b]
        rough += variance[b]
        before = running
        running += density
        noise += rough
        if before < level <= running:
            last = b + (level - before) / (running - before)
            noise_last = noise
            if first < 0:
                first, noise_first = last, noise
    return 0.5 * (first + last), 0.5 * (noise_first + noise_last)
