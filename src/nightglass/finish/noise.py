"""Noise by scale, in light and in colour; blotches told from grain and from real colour."""

from __future__ import annotations

import numpy as np

from nightglass.finish.bands import SCALES_PX, common_slope, details
from nightglass.finish.common import Common
from nightglass.finish.picture import light_of
from nightglass.finish.records import NoiseBand
from nightglass.finish.tone import LEAST_ALIKE
from nightglass.optics.arrays import Flags, Floats32

MOST_TIMES = 99.0
"""Where no grain is left, blotches stand out any number of times."""
FROM_RAW_PX = 4
"""Finer noise of a raw frame depends on how its colours were filled in, which is no finishing."""
FROM_RESAMPLED_PX = 2
GRAIN = (SCALES_PX.index(2), SCALES_PX.index(4))
"""Scales of the grain that hides blotches; at 1 px a file's subsampling of colour decides."""
CENTRAL = 95.0
CENTRAL_SIGMAS = 1.95996
"""Half width of the central 95 % of a Gaussian, in deviations."""
WHITE_BAND = 0.75**0.5
"""Noise of a band at scale 1 over that of the samples: four blocks less their mean."""


def noise_bands(common: Common, saturation: float, raw: bool, step: float) -> tuple[NoiseBand, ...]:
    """Return noise at scales of 1 to 64 px where the picture holds enough sky.

    saturation: of star colours against the reference, which colour noise shares where nothing
    better tells. step: of the picture's whole numbers at the sky [light].
    """
    common = common.sampled
    saturation = _of_noise(common, saturation)
    level = float(common.expected_light[common.sky].mean())
    own = _deviations(common.picture, common.sky)
    should = _deviations(common.expected, common.sky)
    first = 0
    if common.resampled:
        first = SCALES_PX.index(FROM_RESAMPLED_PX)
    # Who makes a picture smaller chooses how much of the finest noise goes with it.
    if raw or common.rescaled:
        first = SCALES_PX.index(FROM_RAW_PX)
    grain_own = _grain([noise[1] for noise in own], first)
    noise_should = _without_real_colour([noise[1] for noise in should], first)
    grain_should = _grain(noise_should, first)
    bands = []
    for k, (light, colour, blocks) in enumerate(own):
        real = max(should[k][1] ** 2 - noise_should[k] ** 2, 0.0) ** 0.5 * saturation
        noise = max(colour**2 - real**2, 0.0) ** 0.5
        err = 1.2 / (2 * blocks) ** 0.5
        rounding = step / 12**0.5 * WHITE_BAND / SCALES_PX[k]
        heard = should[k][0] > 2 * rounding
        judged = k >= first and heard
        blotches = None
        # A real colour that is larger than the noise leaves a rest that is no noise.
        if k >= first and SCALES_PX[k] >= 8 and noise > 3 * err * real:
            blotches = (noise / max(grain_own, 1e-9)) / (noise_should[k] / max(grain_should, 1e-9))
        of_noise = real < noise and noise_should[k] > 0
        bands.append(
            NoiseBand(
                SCALES_PX[k],
                100 * light / level,
                light / should[k][0] if should[k][0] > 0 else None,
                100 * noise / level,
                noise / (saturation * noise_should[k]) if of_noise else None,
                None if blotches is None else min(blotches, MOST_TIMES),
                err,
                judged,
            )
        )
    return tuple(bands)


def _of_noise(common: Common, saturation: float) -> float:
    """How strong colours of the sky are against the reference: by coarse detail that both share."""
    pairs = [
        (
            common.expected[..., k] - common.expected[..., 1],
            common.picture[..., k] - common.picture[..., 1],
        )
        for k in (0, 2)
    ]  # fmt: skip
    shared = common_slope(pairs, common.sky)
    return saturation if shared is None or shared[1] < LEAST_ALIKE else shared[0]


def _grain(noise: list[float], first: int) -> float:
    """Colour noise at 2 and 4 px, as far as judged, as of one sample."""
    pair = [k for k in GRAIN if first <= k < len(noise)]
    if not pair:
        return 0.0
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
    red, blue = planes[..., 0] - planes[..., 1], planes[..., 2] - planes[..., 1]
    found = []
    for _, parts in details((light_of(planes), red, blue), sky):
        light, *colour = (_spread(part) for part in parts)
        both = ((colour[0] ** 2 + colour[1] ** 2) / 2) ** 0.5
        found.append((light, both, len(parts[0])))
    return found


def _spread(values: Floats32) -> float:
    """Deviation from the central 95 %: what wavelets leave is mostly zero with a few high ones."""
    low, high = np.percentile(values, [50 - CENTRAL / 2, 50 + CENTRAL / 2])
    return float(high - low) / 2 / CENTRAL_SIGMAS
