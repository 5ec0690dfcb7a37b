"""Inner loop that measures thousands of stars: a few passes over the samples around each.

The light of a star: what lies in its aperture (radius 1.5 lengths, at least 5 px, found by
growing outward), over the level of the ring 1.2 to 2 radii around it. Colours are brought to one
scale by the star's own colour ratios, fitted with a Gaussian (those of the frame's stars where it
is too faint), so that every sample of the mosaic tells of the shape.
"""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np

from nightglass.optics.compiled import compiled
from nightglass.sky.apertures import moments, ring, ring_room
from nightglass.sky.centres import amplitudes, centre, peak_share
from nightglass.sky.spans import span_error, spans

COLUMNS = (
    "x_px",
    "y_px",
    "x_px_err",
    "y_px_err",
    "flux_counts",
    "flux_counts_err",
    "snr",
    "length_px",
    "width_px",
    "length_px_err",
    "width_px_err",
    "angle_degrees",
    "spread_xx",
    "spread_xy",
    "spread_yy",
    "aperture_px",
    "peak_share",
    "ring_scatter",
    "edge",
)
"""What comes back per star, in this order; see find.FoundStars."""
RATIOS = len(COLUMNS)
"""Column of the star's own colour ratio red / green, the next holds blue / green; nan if faint."""

LEAST_RADIUS_PX = 5.0
KNOWN_COLOUR_SNR = 7.0
"""In one colour alone: its ratio to green is then known to 15 %."""
SHAPE_SNR = 10.0
GROWTH_SNR = 12.0
"""Moments of less light are noise: a wider aperture would only hold more of it."""
OWN_CENTRE_SNR = 25.0
"""Of the light in the aperture: below, the centre under the weight is known better."""


class Setting(NamedTuple):
    """What all stars of a frame have in common.

    pattern (p, q); black, clipping [counts] at its places; photons: variance per count of light;
    ratios (3,): usual light of each colour over green; sigma_px of the weight; largest_px of an
    aperture.
    """

    pattern: Any
    black: Any
    clipping: Any
    photons: float
    ratios: Any
    sigma_px: float
    largest_px: float


@compiled
def measure_all(z, samples, places, noise, setting):  # type: ignore[no-untyped-def]
    """Return one row of COLUMNS, then the two colour ratios, per place.

    z: mosaic in units of its noise. places: (n, 2) rows and columns. noise: (n, 3) counts.
    setting: a Setting.
    """
    n = places.shape[0]
    out = np.full((n, 21), np.nan, dtype=np.float64)
    held = np.empty(ring_room(setting.largest_px), dtype=np.float32)
    profile = np.zeros((2, 2048), dtype=np.float64)
    scale = np.empty((3, *setting.pattern.shape), dtype=np.float32)
    for k in range(n):
        _measure(z, samples, places[k], noise[k], setting, out[k], (held, profile, scale))
    return out


@compiled
def _measure(z, samples, place, noise, setting, out, room):  # type: ignore[no-untyped-def]
    held, profile, scale = room
    sigma = setting.sigma_px
    # In units of the sky's noise the colours differ in height: good enough to begin with.
    scale[0] = 1.0
    scale[1] = 0.0
    x, y, _, _ = centre(z, float(place[1]), float(place[0]), sigma, scale)
    amplitude, square = amplitudes(z, x, y, sigma, noise, setting.pattern)
    snr, ratio_err = _colours(amplitude, square, noise, setting, out, scale)
    x_err, y_err = 0.0, 0.0
    for _ in range(2):
        x, y, x_err, y_err = centre(z, x, y, sigma, scale)
        if abs(x - place[1]) > 3 * sigma or abs(y - place[0]) > 3 * sigma:
            x, y = float(place[1]), float(place[0])
            break
    out[0], out[1], out[2], out[3], out[6] = x, y, x_err, y_err, snr
    radius = LEAST_RADIUS_PX
    background, scatter, level_err = ring(z, x, y, radius, scale, held)
    light = moments(z, x, y, radius, scale, background)
    if snr > SHAPE_SNR and scatter < 4 * noise[1]:
        for _ in range(5):
            # Asked outward: the aperture grows with the light that it holds.
            wanted = min(max(LEAST_RADIUS_PX, 1.5 * _length(light)), setting.largest_px)
            if light[0] < GROWTH_SNR * math.sqrt(light[6]) or wanted < 1.05 * radius:
                break
            if math.hypot(light[1], light[2]) < 0.5 * radius:
                x, y = x + light[1], y + light[2]
            radius = wanted
            background, scatter, level_err = ring(z, x, y, radius, scale, held)
            light = moments(z, x, y, radius, scale, background)
        if light[0] > 0:
            angle = 0.5 * math.atan2(2 * light[4], light[3] - light[5])
            length, width = spans(z, (x, y, radius, angle), scale, background, profile)
            if width > length:
                length, width, angle = width, length, angle + math.pi / 2
            if width > 0:
                sky = scale[1].mean()
                out[7], out[8], out[11] = length, width, math.degrees(angle) % 180.0
                out[9] = span_error(length, light, sky, level_err, radius)
                out[10] = span_error(width, light, sky, level_err, radius)
    _light_into(out, light, (x, y, radius, level_err), ratio_err)
    out[15], out[17] = radius, scatter / noise[1]
    out[16], out[18] = peak_share(z, samples, x, y, setting)
    if min(x, y, z.shape[1] - 1 - x, z.shape[0] - 1 - y) < 2 * radius:
        out[18] = 1.0


@compiled
def _colours(amplitude, square, noise, setting, out, scale):  # type: ignore[no-untyped-def]
    """SNR of the fitted heights and relative error of the light by their ratios.

    Fills scale: from units of noise to counts of green, per place of the pattern; its square, the
    variance of the sky; that variance per unit of z by the star's own photons.
    """
    power, error = 0.0, 0.0
    green = math.sqrt(square[1]) * amplitude[1] / noise[1] if square[1] > 0 else 0.0
    weight = np.zeros(3)
    for c in range(3):
        if square[c] <= 0 or math.isnan(noise[c]):
            continue
        own = math.sqrt(square[c]) * amplitude[c] / noise[c]
        power += own * own
        ratio = setting.ratios[c]
        if c != 1 and own > KNOWN_COLOUR_SNR and green > KNOWN_COLOUR_SNR:
            ratio = amplitude[c] / amplitude[1]
            out[19 + c // 2] = ratio
            error += (square[c] / square.sum()) ** 2 * (1 / own**2 + 1 / green**2)
        weight[c] = noise[c] / ratio
    p, q = setting.pattern.shape
    for r in range(p):
        for k in range(q):
            c = setting.pattern[r, k]
            scale[0, r, k] = weight[c]
            scale[1, r, k] = weight[c] * weight[c]
            scale[2, r, k] = weight[c] * weight[c] * setting.photons / noise[c]
    return math.sqrt(power), math.sqrt(error)


@compiled
def _length(light):  # type: ignore[no-untyped-def]
    """Central 90 % of a Gaussian with the long second moment of the light."""
    xx, xy, yy = light[3], light[4], light[5]
    large = 0.5 * (xx + yy) + math.sqrt(max(0.25 * (xx - yy) ** 2 + xy * xy, 0.0))
    return 3.29 * math.sqrt(max(large, 0.0))


@compiled
def _light_into(out, light, aperture, ratio_err):  # type: ignore[no-untyped-def]
    x, y, radius, level_err = aperture
    flux, mx, my, xx, xy, yy, variance, vxx, vyy = light
    area = math.pi * radius * radius
    out[4] = flux
    out[5] = math.sqrt(max(variance + (area * level_err) ** 2 + (ratio_err * flux) ** 2, 0.0))
    if flux <= 0:
        return
    out[12], out[13], out[14] = xx, xy, yy
    if flux > OWN_CENTRE_SNR * math.sqrt(max(variance, 0.0)):
        out[0], out[1] = x + mx, y + my
        out[2], out[3] = math.sqrt(max(vxx, 0.0)) / flux, math.sqrt(max(vyy, 0.0)) / flux
