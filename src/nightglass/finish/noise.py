"""Noise by scale, in light and in colour; blotches told from grain and from real colour."""

from __future__ import annotations

import numpy as np

from nightglass.finish.common import Common, light_of
from nightglass.finish.records import NoiseBand
from nightglass.optics.arrays import Flags, Floats32

SCALES_PX = (1, 2, 4, 8, 16, 32, 64)
FROM_RAW_PX = 4
"""Finer noise of a raw frame depends on how its colours were filled in, which is no finishing."""
FROM_RESAMPLED_PX = 2
LEAST_BLOCKS = 16
CENTRAL = 95.0
CENTRAL_SIGMAS = 1.95996
"""Half width of the central 95 % of a Gaussian, in deviations."""
WHITE_BAND = 0.75**0.5
"""Noise of a band at scale 1 over that of the samples: four blocks less their mean."""


def noise_bands(
    common: Common, saturation: float, raw: bool, step: tuple[float, float]
) -> tuple[NoiseBand, ...]:
    """Return noise at scales of 1 to 64 px where the picture holds enough sky.

    saturation: of star colours against the reference, which colour noise shares. step: of the
    picture's whole numbers at the sky [light], and the least one of the reference.
    """
    level = float(light_of(common.expected)[common.sky].mean())
    own = _deviations(common.picture, common.sky)
    should = _deviations(common.expected, common.sky)
    first = 0
    if common.resampled:
        first = SCALES_PX.index(FROM_RESAMPLED_PX)
    if raw:
        first = SCALES_PX.index(FROM_RAW_PX)
    grain_own = _grain([noise[1] for noise in own], first)
    noise_should = _without_real_colour([noise[1] for noise in should], first)
    grain_should = _grain(noise_should, first)
    bands = []
    for k, (light, colour, blocks) in enumerate(own):
        real = max(should[k][1] ** 2 - noise_should[k] ** 2, 0.0) ** 0.5 * saturation
        noise = max(colour**2 - real**2, 0.0) ** 0.5
        err = 1.2 / (2 * blocks) ** 0.5
        rounding = step[0] / 12**0.5 * WHITE_BAND / SCALES_PX[k]
        heard = should[k][0] > 2 * rounding
        judged = k >= first and heard
        blotches = None
        # A real colour that is larger than the noise leaves a rest that is no noise.
        if k >= first and SCALES_PX[k] >= 8 and noise > 3 * err * max(real, noise / 3 * err):
            blotches = (noise / max(grain_own, 1e-9)) / (noise_should[k] / max(grain_should, 1e-9))
        bands.append(
            NoiseBand(
                SCALES_PX[k], 100 * light / level,
                light / should[k][0] if should[k][0] > 0 else None,
                100 * noise / level,
                noise / (saturation * noise_should[k]) if noise_should[k] > 0 else None,
                blotches, err, judged,
            )  # fmt: skip
        )
    return tuple(bands)


def _grain(noise: list[float], first: int) -> float:
    """Colour noise of the two finest scales that are judged, as of one sample."""
    pair = range(first, min(first + 2, len(noise)))
    return float(np.sqrt(np.mean([(noise[k] * SCALES_PX[k]) ** 2 for k in pair]))) or 1e-9


def _without_real_colour(colour: list[float], first: int) -> list[float]:
    """What the grain alone makes at each scale: noise falls as the side of the blocks grows.

    What the reference holds beyond is taken for real colour: clouds, the Milky Way, slopes.
    """
    out = list(colour)
    for k in range(first + 1, len(colour)):
        out[k] = min(colour[k], out[first] * SCALES_PX[first] / SCALES_PX[k])
    return out


def _deviations(planes: Floats32, sky: Flags) -> list[tuple[float, float, int]]:
    """Noise of light and of colour and number of blocks, per scale that has enough."""
    light = light_of(planes)
    red, blue = planes[..., 0] - planes[..., 1], planes[..., 2] - planes[..., 1]
    weight = sky.astype(np.float32)
    parts = [part * weight for part in (light, red, blue)]
    found = []
    for _ in SCALES_PX:
        if min(weight.shape) < 4:
            break
        coarse_weight = _summed(weight)
        coarse = [_summed(part) for part in parts]
        details = [
            _detail(part, weight, low, coarse_weight)
            for part, low in zip(parts, coarse, strict=True)
        ]
        if len(details[0]) < LEAST_BLOCKS:
            break
        sigma = [_spread(detail) for detail in details]
        found.append((sigma[0], ((sigma[1] ** 2 + sigma[2] ** 2) / 2) ** 0.5, len(details[0])))
        parts, weight = [part / 4 for part in coarse], coarse_weight / 4
    return found


def _summed(plane: Floats32) -> Floats32:
    rows, columns = plane.shape[0] // 2 * 2, plane.shape[1] // 2 * 2
    part = plane[:rows, :columns]
    return np.asarray(part[::2, ::2] + part[1::2, ::2] + part[::2, 1::2] + part[1::2, 1::2])


def _detail(part: Floats32, weight: Floats32, low: Floats32, low_weight: Floats32) -> Floats32:
    """Block means less the mean of their four, where at least three quarters of all are sky."""
    rows, columns = 2 * low.shape[0], 2 * low.shape[1]
    inside = np.repeat(np.repeat(low_weight >= 3.0, 2, axis=0), 2, axis=1)
    inside &= weight[:rows, :columns] >= 0.5
    mean = part[:rows, :columns][inside] / weight[:rows, :columns][inside]
    four = np.repeat(np.repeat(low / np.maximum(low_weight, 1e-6), 2, axis=0), 2, axis=1)[inside]
    return np.asarray(mean - four)


def _spread(values: Floats32) -> float:
    """Deviation from the central 95 %: what wavelets leave is mostly zero with a few high ones."""
    low, high = np.percentile(values, [50 - CENTRAL / 2, 50 + CENTRAL / 2])
    return float(high - low) / 2 / CENTRAL_SIGMAS
