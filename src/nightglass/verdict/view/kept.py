"""How much of a star's peak the viewed picture keeps: spot, trail and eye drawn together.

All three are products of spectra: the rebuilt spot's (the pixel's own blur is in it), an even
line's sinc and the eye's Gaussian. The Gaussian ends the spectrum, so that a few samples per
standard deviation of the eye hold the whole picture. Peaks between samples are exact for Gaussian
stars; for comets, rings and halos half of them are within 0.1 % and all within 2.5 %
(design/viewed_peaks.py; tests/verdict/view).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.fft import fft2, irfft2, next_fast_len

from nightglass.bench.records import ZoneResult
from nightglass.optics.arrays import Floats
from nightglass.verdict.blur import inside_aperture, spot_image

Spectrum = NDArray[np.complex64]
Turns = NDArray[np.floating[Any]]

STEP_SIGMAS, LEAST_STEP_PX = 0.8, 0.9
"""Step of the viewed picture: in standard deviations of the eye (beyond the frequencies left lies
0.05 % of its light), and where the eye is sharper than the stamp, nearly the stamp's own."""
SPOT_SHARE, ROOM_SIGMAS = 0.66, 4.0
"""The period of the drawn picture: this share of the stamp, which is three lengths wide, the
longest trail, and dark in standard deviations of the eye. What lies further out is folded onto the
other side. It moves peak and area by less than 0.1 % (design/viewed_peaks.py)."""
BOX_STEPS = 0.5
"""A peak lies at most half a step from the brightest sample, along each axis."""
SURE_STEPS = 0.75
"""How far a tilted Gaussian's peak may seem to lie before the parabola is not believed."""
LENGTHS, ANGLES = 4, 8
"""Trails drawn per spot; those of the frame's places lie between them, at most 1 % off (6 angles:
4 %; tests/verdict/view)."""

_AT_ONCE_BYTES = 1 << 17
"""Arrays beyond this come fresh from the system, page by page, at twice the time."""


@dataclass(frozen=True)
class Kept:
    """What the view keeps of a spot under several trails: arrays of the trails' shape."""

    log_peak: Floats
    """ln of peak_kept."""
    log_area: Floats
    """ln of the noise area [px^2] of the viewed star: (sum)^2 / sum of squares."""


@dataclass(frozen=True)
class _Viewed:
    """Spectrum of spot and eye on the frequencies that the eye leaves [cycles per px]."""

    spectrum: Spectrum
    fx: Floats
    fy: Floats
    samples: int
    period_px: int


_FOUND: dict[tuple[int, float, bytes, bytes], tuple[ZoneResult, Kept]] = {}
MOST_FOUND = 20_000
"""Zones under an eye and its trails that are held: some 2 kB each."""


def peak_kept(spot: Floats, sigma_px: float, trail_px: float = 0, angle_degrees: float = 0) -> Kept:
    """Return what the view keeps of one spot under one trail; arrays of shape (1,).

    spot: (rows, columns), 1 px steps, the light in it counted as the star's whole light.
    sigma_px: of the eye. Raises ValueError for a spot without light, a trail under 0 or an eye
    that is not above 0.
    """
    trails, angles = np.array([float(trail_px)]), np.array([float(angle_degrees)])
    _check(spot, sigma_px, trails)
    return _drawn(_viewed(spot, sigma_px, float(trail_px)), sigma_px, trails, angles)


def peaks_kept(spot: Floats, sigma_px: float, trail_px: Floats, angle_degrees: Floats) -> Kept:
    """Return what the view keeps of one spot under the trails of many places.

    trail_px, angle_degrees (against the stamp's x axis): (n,). 4 lengths by 8 angles are drawn;
    between them a polynomial over the length and a trigonometric one over twice the angle, which
    a trail and its reverse share. Errors as for peak_kept.
    """
    _check(spot, sigma_px, trail_px)
    shortest, longest = float(np.min(trail_px)), float(np.max(trail_px))
    # A length apart even where all trails are equal: the polynomial needs different nodes.
    spread = max(longest - shortest, 1e-3)
    turns = np.cos(math.pi * (np.arange(LENGTHS) + 0.5) / LENGTHS)
    nodes = shortest + spread * (1 - turns) / 2
    angles = np.arange(ANGLES) * 180.0 / ANGLES
    grid_length, grid_angle = (v.ravel() for v in np.meshgrid(nodes, angles, indexing="ij"))
    drawn = _drawn(_viewed(spot, sigma_px, longest), sigma_px, grid_length, grid_angle)
    weights = _length_weights(nodes, trail_px)[:, :, None] * _angle_weights(angle_degrees)[:, None]
    flat = weights.reshape(len(trail_px), -1)
    return Kept(flat @ drawn.log_peak, flat @ drawn.log_area)


def zone_kept(zone: ZoneResult, sigma_px: float, trail_px: Floats, angle_degrees: Floats) -> Kept:
    """Return peaks_kept of a measured zone; at limit, of a Gaussian as long as its upper bound.

    What was asked before of the same record is found again: most of a ranking's time goes here,
    and another purpose or weight asks much of it anew.
    """
    asked = (id(zone), sigma_px, trail_px.tobytes(), angle_degrees.tobytes())
    found = _FOUND.get(asked)
    if found is not None and found[0] is zone:
        return found[1]
    spot = inside_aperture(spot_image(zone), zone.length_px.bound or 0.0)
    kept = peaks_kept(spot, sigma_px, trail_px, angle_degrees)
    while len(_FOUND) >= MOST_FOUND:
        # The oldest goes; another thread may have taken it.
        _FOUND.pop(next(iter(_FOUND), asked), None)
    # The record is kept too: as long as it lives, nothing else has its identity.
    _FOUND[asked] = zone, kept
    return kept


def zone_at_limit(zone: ZoneResult) -> bool:
    """Return whether a zone's spot counts with its upper bound: what it keeps is then a least."""
    return zone.length_px.value is None


def peak_power(log_peak: Floats, trail_px: Floats, sigma_px: float) -> Floats:
    """Return d ln(peak_kept) / d ln(noise area of the untrailed spot), for error bars.

    Of the round Gaussian that keeps the same peak under the same trail: with v its variance,
    s^2 the eye's and L^2 / 12 the trail's, peak_kept is s^2 / sqrt((s^2 + v) (s^2 + v + L^2 / 12)).
    Exact for it but for the trail's shape, and near enough for the size of an error bar.
    """
    eye, line = sigma_px**2, trail_px**2 / 12
    # (s^2 + v) (s^2 + v + line) = s^4 / peak^2, solved for s^2 + v.
    product = eye**2 * np.exp(-2 * log_peak)
    wide = np.maximum(np.sqrt(line**2 / 4 + product) - line / 2, eye)
    variance = wide - eye
    return -(variance / wide + variance / (wide + line)) / 2


def _check(spot: Floats, sigma_px: float, trail_px: Floats) -> None:
    if not sigma_px > 0:
        raise ValueError(f"sigma_px is {sigma_px:g}; the eye's blur is above 0 px")
    if np.any(trail_px < 0):
        raise ValueError(f"trail_px is {np.min(trail_px):g}; a trail is 0 or longer")
    if not float(np.sum(spot)) > 0:
        raise ValueError("the spot holds no light: its samples sum to 0 or less")


def _viewed(spot: Floats, sigma_px: float, longest_px: float) -> _Viewed:
    room = SPOT_SHARE * max(spot.shape) + longest_px + ROOM_SIGMAS * sigma_px
    period = next_fast_len(math.ceil(room), real=True)
    step = max(STEP_SIGMAS * sigma_px, LEAST_STEP_PX)
    samples = 2 * next_fast_len(math.ceil(period / step / 2), real=True)
    # Beyond half a cycle per pixel the stamp says nothing.
    reach = min(samples // 2 - 1, (period - 1) // 2)
    k = np.rint(np.fft.fftfreq(samples) * samples).astype(int)
    rows, columns = k[np.abs(k) <= reach], np.arange(reach + 1)
    light = fft2(_folded(spot / spot.sum(), period))[np.ix_(rows % period, columns)]
    fy, fx = rows / period, columns / period
    eye = np.exp(-2 * (math.pi * sigma_px) ** 2 * (fy[:, None] ** 2 + fx[None, :] ** 2))
    spectrum = np.zeros((samples, samples // 2 + 1), dtype=np.complex64)
    # Light per square pixel: the spectrum is that of one period.
    spectrum[np.ix_(rows % samples, columns)] = light * eye * (samples / period) ** 2
    return _Viewed(spectrum, np.arange(samples // 2 + 1) / period, k / period, samples, period)


def _drawn(viewed: _Viewed, sigma_px: float, trail_px: Floats, angle_degrees: Floats) -> Kept:
    angle = np.radians(angle_degrees)
    # Single precision holds seven digits in half the time.
    along_x = ((math.pi * trail_px * np.cos(angle))[:, None] * viewed.fx).astype(np.float32)
    along_y = ((math.pi * trail_px * np.sin(angle))[:, None] * viewed.fy).astype(np.float32)
    few = max(1, _AT_ONCE_BYTES // viewed.spectrum.nbytes)
    parts = [
        _tops_and_squares(viewed, along_x[k : k + few], along_y[k : k + few])
        for k in range(0, trail_px.size, few)
    ]
    tops, squares = (np.concatenate(part) for part in zip(*parts, strict=True))
    step_area = (viewed.period_px / viewed.samples) ** 2
    peak = _log_peak(tops) + math.log(2 * math.pi * sigma_px**2)
    return Kept(np.minimum(peak, 0.0), -np.log(squares * step_area))


def _tops_and_squares(viewed: _Viewed, along_x: Turns, along_y: Turns) -> tuple[Floats, Floats]:
    """Of the images along some trails: the samples around the brightest (n, 3, 3), and the sums of
    squares (n,)."""
    # A line of length L has the transform sinc(L u), 1 at 0.
    x = along_y[:, :, None] + along_x[:, None, :]
    x[x == 0] = 1e-9
    image = irfft2(np.sin(x) / x * viewed.spectrum, (viewed.samples,) * 2, axes=(1, 2))
    return _around_peaks(image), np.einsum("kij,kij->k", image, image).astype(np.float64)


def _folded(spot: Floats, period: int) -> Floats:
    """One period (period, period) of the spot repeated for ever."""
    turns = -(-max(spot.shape) // period)
    wide = np.zeros((turns * period, turns * period))
    wide[: spot.shape[0], : spot.shape[1]] = spot
    return wide.reshape(turns, period, turns, period).sum(axis=(0, 2))


def _log_peak(tops: Floats) -> Floats:
    """ln of the peaks (n,) between samples: parabolas through the logarithm, exact for Gaussians.

    tops: the samples around the brightest, (n, 3, 3).

    With the cross term: a trail may run at any angle. On the flat top of a ring or a long trail
    the parabola has its own peak anywhere; there it counts only near the brightest sample.
    """
    z = np.log(np.maximum(tops, 1e-30))
    gy, gx = (z[:, 2, 1] - z[:, 0, 1]) / 2, (z[:, 1, 2] - z[:, 1, 0]) / 2
    yy = z[:, 2, 1] + z[:, 0, 1] - 2 * z[:, 1, 1]
    xx = z[:, 1, 2] + z[:, 1, 0] - 2 * z[:, 1, 1]
    xy = (z[:, 2, 2] - z[:, 2, 0] - z[:, 0, 2] + z[:, 0, 0]) / 4
    with np.errstate(divide="ignore", invalid="ignore"):
        bend = xx * yy - xy**2
        x, y = (xy * gy - yy * gx) / bend, (xy * gx - xx * gy) / bend
    # NaN where there is no bend: not sure either.
    sure = (bend > 0) & (np.maximum(np.abs(x), np.abs(y)) <= SURE_STEPS)
    rise = np.where(sure, (gx * x + gy * y) / 2, 0.0)
    rise[~sure] = _highest_in_box(*(v[~sure] for v in (gx, gy, xx, yy, xy)))
    return np.asarray(z[:, 1, 1] + rise)


def _highest_in_box(gx: Floats, gy: Floats, xx: Floats, yy: Floats, xy: Floats) -> Floats:
    """How high parabolas (n,) rise within BOX_STEPS of their middle, read on a fine grid."""
    x = np.linspace(-BOX_STEPS, BOX_STEPS, 9)
    terms = np.array([
        np.broadcast_to(term, (x.size, x.size)).ravel()
        for term in (x, x[:, None], x**2 / 2, x[:, None] ** 2 / 2, x * x[:, None])
    ])  # fmt: skip
    return np.asarray((np.column_stack([gx, gy, xx, yy, xy]) @ terms).max(axis=1, initial=0.0))


def _around_peaks(image: Floats) -> Floats:
    """The 3 x 3 samples around the brightest of each image (n, 3, 3); images repeat."""
    count, rows, columns = image.shape
    flat = image.reshape(count, -1).argmax(axis=1)
    row, column = np.divmod(flat, columns)
    near = np.arange(-1, 2)
    y, x = (row[:, None] + near) % rows, (column[:, None] + near) % columns
    return image[np.arange(count)[:, None, None], y[:, :, None], x[:, None]].astype(np.float64)


def _length_weights(nodes: Floats, trail_px: Floats) -> Floats:
    """Lagrange's weights (n, lengths) of the drawn lengths at the wanted ones."""
    weights = np.ones((trail_px.size, nodes.size))
    for k in range(nodes.size):
        for other in range(nodes.size):
            if other != k:
                weights[:, k] *= (trail_px - nodes[other]) / (nodes[k] - nodes[other])
    return weights


def _angle_weights(angle_degrees: Floats) -> Floats:
    """Weights (n, angles) of the trigonometric polynomial through even angles over 180 degrees."""
    waves = np.arange(ANGLES // 2 + 1)
    nodes = np.arange(ANGLES) * 2 * math.pi / ANGLES
    # cos k(a - node) of all waves; the first and the last count half as much as the others.
    share = np.where((waves == 0) | (waves == ANGLES // 2), 1.0, 2.0) / ANGLES
    once = np.exp(2j * np.radians(angle_degrees))
    # Powers by products: ten times faster than the power of a complex number.
    turns = np.cumprod(np.column_stack([np.ones_like(once)] + [once] * (waves.size - 1)), axis=1)
    at_nodes = share[:, None] * np.exp(-1j * waves[:, None] * nodes)
    return np.asarray((turns @ at_nodes).real)
