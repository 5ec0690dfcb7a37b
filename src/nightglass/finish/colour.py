"""Colours of stars and of the background against those of the reference."""

from __future__ import annotations

import numpy as np

from nightglass.finish.common import Common
from nightglass.finish.records import ColourShift
from nightglass.finish.starlight import Followed
from nightglass.finish.tone import star_light
from nightglass.optics.arrays import Floats
from nightglass.optics.extent import MAD_TO_SIGMA

LEAST_STARS = 8


def star_colours(common: Common, stars: Followed) -> tuple[Floats, Floats, Floats]:
    """Return the light (n, 3) of clear stars: picture, reference, reference in its tone."""
    return tuple(  # type: ignore[return-value]
        star_light(part, common.sky, *stars.clear)
        for part in (common.picture, common.reference, common.expected)
    )


def star_shift(picture: Floats, reference: Floats) -> ColourShift | None:
    """Return the median change of the stars' colour; None with fewer than 8."""
    good = np.all((picture > 0) & (reference > 0), axis=1)
    if good.sum() < LEAST_STARS:
        return None
    change = _against_green(picture[good]) - _against_green(reference[good])
    middle = np.median(change, axis=0)
    spread = MAD_TO_SIGMA * np.median(np.abs(change - middle), axis=0)
    err = 1.25 * float(spread.max()) / float(good.sum()) ** 0.5
    return ColourShift(float(middle[0]), float(middle[1]), err)


def background_shift(common: Common) -> ColourShift | None:
    """Return the change of the sky's colour; None where a colour of the sky is at or under 0."""
    common = common.sampled
    levels = [
        np.array([float(np.median(part[..., k][common.sky])) for k in range(3)])
        for part in (common.picture, common.reference)
    ]
    if min(level.min() for level in levels) <= 0:
        return None
    change = _against_green(levels[0][None]) - _against_green(levels[1][None])
    relative = [
        float((part[..., k][common.sky]).std()) / level[k]
        for part, level in zip((common.picture, common.reference), levels, strict=True)
        for k in range(3)
    ]
    err = 1.25 * max(relative) * 1.4427 / float(common.sky.sum()) ** 0.5
    return ColourShift(float(change[0, 0]), float(change[0, 1]), err)


def saturation(picture: Floats, expected: Floats) -> tuple[float, float] | None:
    """Return how much of the stars' own colours is left, with its error; None if unknown.

    The slope of the stars' colours (red and blue less green, over their light) about their mean
    against those of the reference in the picture's tone.
    """
    good = np.all((picture > 0) & (expected > 0), axis=1)
    if good.sum() < LEAST_STARS:
        return None
    own, should = _colourfulness(picture[good]), _colourfulness(expected[good])
    own, should = own - np.median(own, axis=0), should - np.median(should, axis=0)
    variation = float(np.sum(should**2))
    if variation / good.sum() < 2 * 0.03**2:
        return None
    slope = float(np.sum(own * should)) / variation
    rest = own - slope * should
    err = float(np.sqrt(np.sum(rest**2) / (2 * good.sum()) / variation))
    return slope, err


def _against_green(light: Floats) -> Floats:
    return np.log2(light[:, [0, 2]] / light[:, [1]])


def _colourfulness(light: Floats) -> Floats:
    total = light @ np.array([0.25, 0.5, 0.25])
    return np.asarray((light[:, [0, 2]] - light[:, [1]]) / total[:, None])
