"""A spot as the eye sees it, drawn along many trails at once, and the peaks of what was drawn.

Waves are counted out by products of matrices, not by a fast transform: a viewed star has some
fifteen of them along each axis, all trails of a spot share their tables, and of the picture only
those rows are drawn that can hold its peak.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from nightglass.optics.arrays import Floats
from nightglass.optics.compiled import compiled_waves

BOX_STEPS = 0.5
"""A peak lies at most half a step from the brightest sample, along each axis
(design/viewed_peaks.py)."""
SURE_STEPS = 0.75
"""How far a tilted Gaussian's peak may seem to lie before the parabola is not believed."""

_AT_ONCE_BYTES = 1 << 16
"""Arrays much beyond this come fresh from the system, page by page, at twice the time."""
_BOX_POINTS = 9
_STRAIGHT = 1e-6
"""Below this, sin(x) / x is 1 to thirteen digits."""


@dataclass(frozen=True)
class Waves:
    """The waves of a picture that repeats with a period, each axis alike, as the eye leaves them.

    Real and imaginary parts: (reach + 1, reach + 1), over waves along y (k) and x, from 0. Waves
    along x above 0 hold those below 0 too.
    """

    above: tuple[Floats, Floats]
    """Of the waves k."""
    below: tuple[Floats, Floats]
    """Of the waves -k; nothing for 0."""
    period_px: int


def waves_in_view(spot: Floats, sigma_px: float, period_px: int, reach: int) -> Waves:
    """Return the waves of a spot of light 1 after the eye's blur, up to `reach` in a period.

    spot: (rows, columns), 1 px steps. What lies outside one period is folded into it.
    """
    cosine, sine = _turns(reach + 1, max(spot.shape), period_px)
    rows, columns = spot.shape
    real, imaginary = spot @ cosine[:, :columns].T, -(spot @ sine[:, :columns].T)
    across, against = cosine[:, :rows], sine[:, :rows]
    ca, sa, cb, sb = across @ real, against @ real, across @ imaginary, against @ imaginary
    eye = np.exp(-2 * (math.pi * sigma_px * np.arange(reach + 1) / period_px) ** 2)
    left = eye[:, None] * eye / (ca[0, 0] * period_px**2)
    left[:, 1:] *= 2
    above, below = (left * (ca + sb), left * (cb - sa)), (left * (ca - sb), left * (cb + sa))
    for part in below:
        part[0] = 0.0
    return Waves(above, below, period_px)


def tops_and_squares(
    waves: Waves, samples: int, trail_px: Floats, angle_degrees: Floats
) -> tuple[Floats, Floats]:
    """Return the samples around the brightest (n, 3, 3), and the sums of squares (n,), of a spot's
    pictures along some trails.

    samples: of a period along each axis; even, and over twice the waves' reach.
    """
    count, half = len(waves.above[0]), samples // 2 + 1
    cosine, sine = _turns(count, half, samples)
    angle = np.radians(angle_degrees)
    along_x = math.pi / waves.period_px * trail_px * np.cos(angle)
    along_y = math.pi / waves.period_px * trail_px * np.sin(angle)
    tops, squares = np.empty((trail_px.size, 3, 3)), np.empty(trail_px.size)
    few = max(1, _AT_ONCE_BYTES // (16 * count * half))
    for k in range(0, trail_px.size, few):
        some = slice(k, k + few)
        both, apart, squares[some] = _trailed(
            *waves.above, *waves.below, along_x[some], along_y[some]
        )
        shape = half, both.shape[1], 2, count
        even = (cosine.T @ both.reshape(count, -1)).reshape(shape)
        odd = (sine.T @ apart.reshape(count, -1)).reshape(shape)
        tops[some] = _tops(even, odd, cosine, sine)
    return tops, squares * samples**2


@lru_cache(maxsize=256)
def _turns(waves: int, places: int, period: int) -> tuple[Floats, Floats]:
    """Cosine and sine of 2 pi k y / period: (waves, places) each."""
    part = 2 * math.pi / period * (np.arange(waves)[:, None] * np.arange(places) % period)
    return np.cos(part), np.sin(part)


@compiled_waves
def _trailed(above_r, above_i, below_r, below_i, along_x, along_y):  # type: ignore[no-untyped-def]
    """Sums and differences of the waves k and -k under trails, (k, trails, 2, waves along x), and
    the sums of their squares: a wave that stands for two counts twice."""
    count, trails = len(above_r), along_x.size
    both, apart = np.empty((count, trails, 2, count)), np.empty((count, trails, 2, count))
    squares = np.zeros(trails)
    steps = np.arange(count)
    for n in range(trails):
        sx, cx = np.sin(along_x[n] * steps), np.cos(along_x[n] * steps)
        for k in range(count):
            y = along_y[n] * k
            sy, cy = math.sin(y), math.cos(y)
            for i in range(count):
                # A line of length L has the transform sinc(L u), 1 at 0.
                up, down = along_x[n] * i + y, along_x[n] * i - y
                one = (sx[i] * cy + cx[i] * sy) / up if abs(up) > _STRAIGHT else 1.0
                other = (sx[i] * cy - cx[i] * sy) / down if abs(down) > _STRAIGHT else 1.0
                a, b = above_r[k, i] * one, above_i[k, i] * one
                c, d = below_r[k, i] * other, below_i[k, i] * other
                both[k, n, 0, i], both[k, n, 1, i] = a + c, b + d
                apart[k, n, 0, i], apart[k, n, 1, i] = a - c, b - d
                squares[n] += (a * a + b * b + c * c + d * d) * (1.0 if i == 0 else 0.5)
    return both, apart, squares


@compiled_waves
def _tops(even, odd, cosine, sine):  # type: ignore[no-untyped-def]
    """The samples around the brightest of each picture (n, 3, 3), given its rows as waves along x:
    row y is even + i odd, row -y even - i odd."""
    half, trails = even.shape[0], even.shape[1]
    samples = 2 * (half - 1)
    tops, row = np.empty((trails, 3, 3)), np.empty(samples)
    for n in range(trails):
        most = _most_in_rows(even[:, n], odd[:, n])
        best = -np.inf
        y = x = most.argmax()
        while True:
            # No sample is above the sum of its waves' sizes: few rows can hold the peak.
            here = most.argmax()
            if most[here] <= best:
                break
            most[here] = -np.inf
            _drawn_row(even[:, n], odd[:, n], cosine, sine, here, row)
            at = row.argmax()
            if row[at] > best:
                best, y, x = row[at], here, at
        for i in range(3):
            _drawn_row(even[:, n], odd[:, n], cosine, sine, (y + i - 1) % samples, row)
            for j in range(3):
                tops[n, i, j] = row[(x + j - 1) % samples]
    return tops


@compiled_waves
def _most_in_rows(even, odd):  # type: ignore[no-untyped-def]
    """What no sample of a row is above: the sum of the sizes of its waves (samples,)."""
    half, count = even.shape[0], even.shape[2]
    samples = 2 * (half - 1)
    most = np.zeros(samples)
    for y in range(half):
        up = down = 0.0
        for i in range(count):
            a, b, c, d = even[y, 0, i], even[y, 1, i], odd[y, 0, i], odd[y, 1, i]
            up += math.sqrt((a - d) ** 2 + (b + c) ** 2)
            down += math.sqrt((a + d) ** 2 + (b - c) ** 2)
        most[(samples - y) % samples] = down
        most[y] = up
    return most


@compiled_waves
def _drawn_row(even, odd, cosine, sine, y, row):  # type: ignore[no-untyped-def]
    """Fill in one row (samples,) of a picture."""
    half, count = even.shape[0], even.shape[2]
    samples = 2 * (half - 1)
    here, sign = (y, 1.0) if y < half else (samples - y, -1.0)
    # Mirrored places share the cosines; the sines change their sign.
    first, second = np.zeros(half), np.zeros(half)
    for i in range(count):
        real = even[here, 0, i] - sign * odd[here, 1, i]
        imaginary = even[here, 1, i] + sign * odd[here, 0, i]
        for x in range(half):
            first[x] += real * cosine[i, x]
            second[x] += imaginary * sine[i, x]
    for x in range(half):
        row[(samples - x) % samples] = first[x] + second[x]
        row[x] = first[x] - second[x]


@compiled_waves
def log_peaks(tops):  # type: ignore[no-untyped-def]
    """Return ln of the peaks (n,) between samples: parabolas through the logarithm, exact for
    Gaussians.

    tops: the samples around the brightest, (n, 3, 3). With the cross term: a trail may run at any
    angle. On the flat top of a ring or a long trail the parabola has its own peak anywhere; there
    it counts only near the brightest sample.
    """
    found = np.empty(len(tops))
    for n in range(len(tops)):
        z = np.log(np.maximum(tops[n], 1e-30))
        gy, gx = (z[2, 1] - z[0, 1]) / 2, (z[1, 2] - z[1, 0]) / 2
        yy = z[2, 1] + z[0, 1] - 2 * z[1, 1]
        xx = z[1, 2] + z[1, 0] - 2 * z[1, 1]
        xy = (z[2, 2] - z[2, 0] - z[0, 2] + z[0, 0]) / 4
        bend = xx * yy - xy**2
        x, y = (xy * gy - yy * gx) / bend, (xy * gx - xx * gy) / bend
        # NaN where there is no bend: not sure either.
        if bend > 0 and abs(x) <= SURE_STEPS and abs(y) <= SURE_STEPS:
            rise = (gx * x + gy * y) / 2
        else:
            rise = _highest_in_box(gx, gy, xx, yy, xy)
        found[n] = z[1, 1] + rise
    return found


@compiled_waves
def _highest_in_box(gx, gy, xx, yy, xy):  # type: ignore[no-untyped-def]
    """How high a parabola rises within BOX_STEPS of its middle, read on a fine grid."""
    best = 0.0
    for i in range(_BOX_POINTS):
        y = BOX_STEPS * (2 * i / (_BOX_POINTS - 1) - 1)
        for j in range(_BOX_POINTS):
            x = BOX_STEPS * (2 * j / (_BOX_POINTS - 1) - 1)
            best = max(best, gx * x + gy * y + xx * x * x / 2 + yy * y * y / 2 + xy * x * y)
    return best
