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
from nightglass.optics.extent import GAUSSIAN_LENGTH
from nightglass.sky.stars.apertures import moments, ring, ring_room
from nightglass.sky.stars.centres import amplitudes, centre, peak_share
from nightglass.sky.stars.spans import method_error, span_error, spans

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
PEDESTAL = RATIOS + 2
"""Column of the level of the ring over the sky's, as far as it is sure, in units of noise."""

KNOWN_COLOUR_SNR = 7.0
"""In one colour alone: its ratio to green is then known to 15 %."""
SHAPE_SNR = 10.0
"""Of the light in the aperture: noise lengthens what is fainter."""
GROWTH_SNR = 40.0
"""Of the light in the aperture: a length from the moments of less is off by more than 15 %, and
the aperture is the usual one of the frame."""
OWN_CENTRE_SNR = 25.0
"""Of the light in the aperture: below, the centre under the weight is known better."""
PLACE_ERR_PX = 0.005
LIGHT_ERR_SIX = 0.007
"""What the method adds to the noise (design/star_errors.py): to places, and to the light of a 6x6
mosaic, whose red and blue lie far apart."""


class Setting(NamedTuple):
    """What all stars of a frame have in common.

    pattern (p, q); black, clipping [counts] at its places; photons: variance per count of light;
    ratios (3,): usual light of each colour over green; sigma_px of the weight; usual_px: length of
    the frame's stars; least_px, largest_px: radius of an aperture.
    """

    pattern: Any
    black: Any
    clipping: Any
    photons: float
    ratios: Any
    sigma_px: float
    usual_px: float
    least_px: float
    largest_px: float


@compiled
def measure_all(z, samples, places, noise, setting):  # type: ignore[no-untyped-def]
    """Return one row of COLUMNS, then the two colour ratios and the pedestal, per place.

    z: mosaic in units of its noise. places: (n, 2) rows and columns. noise: (n, 3) counts.
    setting: a Setting.
    """
    n = places.shape[0]
    out = np.full((n, PEDESTAL + 1), np.nan, dtype=np.float64)
    held = np.empty(ring_room(setting.largest_px), dtype=np.float32)
    profile = np.zeros((2, 2048), dtype=np.float64)
    scale = np.empty((3, *setting.pattern.shape), dtype=np.float32)
    for k in range(n):
        _measure(z, samples, places[k], noise[k], setting, out[k], (held, profile, scale))
    return out


@compiled
def _measure(z, samples, place, noise, setting, out, room):  # type: ignore[no-untyped-def]
    held, profile, scale = room
    x, y, ratio_err = _settled(z, place, noise, setting, out, scale)
    radius = min(max(setting.least_px, 1.5 * setting.usual_px), setting.largest_px)
    background, scatter, level_err = ring(z, x, y, radius, scale, held)
    light = moments(z, x, y, radius, scale, background)
    out[PEDESTAL] = max(background - level_err, 0.0) / scale[0].mean()
    # Land is unquiet too, but holds no peak that stands far above its own scatter.
    star = scatter < 4 * noise[1] or out[6] * noise[1] > 40 * scatter
    if star:
        if light[0] > GROWTH_SNR * math.sqrt(light[6]):
            x, y, radius, light = _grown(z, x, y, scale, held, setting)
            if light[3] > 0.1 and light[3] * light[5] > 1.1 * light[4] ** 2:
                own = amplitudes(z, x, y, light[3:6], noise, setting.pattern)
                _, ratio_err = _colours(own[0], own[1], noise, setting, out, scale)
            background, scatter, level_err = ring(z, x, y, radius, scale, held)
            light = moments(z, x, y, radius, scale, background)
        if light[0] > SHAPE_SNR * math.sqrt(light[6]):
            _shape_into(z, (x, y, radius), scale, (background, level_err), light, out, profile)
    _light_into(out, light, (x, y, radius, level_err), ratio_err)
    out[15], out[17] = radius, scatter / noise[1]
    out[16], out[18] = peak_share(z, samples, x, y, setting)
    if min(x, y, z.shape[1] - 1 - x, z.shape[0] - 1 - y) < 2 * radius:
        out[18] = 1.0


@compiled
def _settled(z, place, noise, setting, out, scale):  # type: ignore[no-untyped-def]
    """Centre under the weight, and relative error of the light by the colours' ratios."""
    sigma = setting.sigma_px
    # How much farther than the weighted mean a star as long as the frame's has moved.
    step = 1 + (setting.usual_px / GAUSSIAN_LENGTH / sigma) ** 2
    # In units of the sky's noise the colours differ in height: good enough to begin with.
    scale[0] = 1.0
    scale[1:] = 0.0
    x, y, _, _ = centre(z, float(place[1]), float(place[0]), sigma, step, scale)
    spread = (sigma * sigma, 0.0, sigma * sigma)
    amplitude, square = amplitudes(z, x, y, spread, noise, setting.pattern)
    out[6], ratio_err = _colours(amplitude, square, noise, setting, out, scale)
    for _ in range(8):
        before = x, y
        x, y, out[2], out[3] = centre(z, x, y, sigma, step, scale)
        if abs(x - place[1]) > 3 * sigma or abs(y - place[0]) > 3 * sigma:
            x, y = float(place[1]), float(place[0])
            break
        if abs(x - before[0]) + abs(y - before[1]) < 0.3 * (out[2] + out[3]):
            break
    out[0], out[1] = x, y
    return x, y, ratio_err


@compiled
def _grown(z, x, y, scale, held, setting):  # type: ignore[no-untyped-def]
    """Place and radius of the aperture, grown outward with the light that it holds, and that."""
    radius = setting.least_px
    light = moments(z, x, y, radius, scale, ring(z, x, y, radius, scale, held)[0])
    for _ in range(6):
        wanted = min(max(setting.least_px, 1.5 * _length(light)), setting.largest_px)
        if light[0] <= 0 or wanted < 1.05 * radius:
            break
        if math.hypot(light[1], light[2]) < 0.5 * radius:
            x, y = x + light[1], y + light[2]
        radius = wanted
        light = moments(z, x, y, radius, scale, ring(z, x, y, radius, scale, held)[0])
    return x, y, radius, light


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
        if c != 1 and green > KNOWN_COLOUR_SNR:
            out[RATIOS + c // 2] = amplitude[c] / amplitude[1]
            if own > KNOWN_COLOUR_SNR:
                ratio = amplitude[c] / amplitude[1]
                # The star's own photons lie under two thirds of its height, on average.
                light = 1 + setting.photons * amplitude[c] / (1.5 * noise[c] ** 2)
                light_green = 1 + setting.photons * amplitude[1] / (1.5 * noise[1] ** 2)
                share = square[c] / square.sum()
                error += share**2 * (light / own**2 + light_green / green**2)
        weight[c] = noise[c] / ratio
    p, q = setting.pattern.shape
    for r in range(p):
        for k in range(q):
            c = setting.pattern[r, k]
            scale[0, r, k] = weight[c]
            scale[1, r, k] = weight[c] * weight[c]
            scale[2, r, k] = weight[c] * weight[c] * setting.photons / noise[c]
    method = LIGHT_ERR_SIX if p > 2 else 0.0
    return math.sqrt(power), math.hypot(math.sqrt(error), method)


@compiled
def _length(light):  # type: ignore[no-untyped-def]
    """Central 90 % of a Gaussian with the long second moment of the light."""
    xx, xy, yy = light[3], light[4], light[5]
    large = 0.5 * (xx + yy) + math.sqrt(max(0.25 * (xx - yy) ** 2 + xy * xy, 0.0))
    return GAUSSIAN_LENGTH * math.sqrt(max(large, 0.0))


@compiled
def _shape_into(z, aperture, scale, background, light, out, profile):  # type: ignore[no-untyped-def]
    x, y, radius = aperture
    level, level_err = background
    xx, xy, yy = light[3], light[4], light[5]
    angle = 0.5 * math.atan2(2 * xy, xx - yy)
    length, width = spans(z, (x, y, radius, angle), scale, level, profile)
    if width > length:
        length, width, angle = width, length, angle + math.pi / 2
    if not width > 0:
        return
    sky = scale[1].mean()
    out[7], out[8], out[11] = length, width, math.degrees(angle) % 180.0
    out[9] = math.hypot(span_error(length, light, sky, level_err, radius), method_error(length))
    # An axis that noise has turned takes in some of the length.
    apart = math.hypot(0.5 * (xx - yy), xy)
    turned = min(0.14 * radius * radius * math.sqrt(light[6]) / (light[0] * max(apart, 1e-6)), 0.5)
    mixed = (length * length - width * width) * turned * turned / (2 * width)
    out[10] = math.hypot(span_error(width, light, sky, level_err, radius), mixed)
    out[10] = math.hypot(out[10], method_error(width))


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
    out[2], out[3] = math.hypot(out[2], PLACE_ERR_PX), math.hypot(out[3], PLACE_ERR_PX)
