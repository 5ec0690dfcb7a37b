"""The tone of a developed picture: its light as a rising curve of the reference's, per colour."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from scipy.ndimage import gaussian_filter

from nightglass.finish.bands import common_slope
from nightglass.optics.arrays import Flags, Floats, Floats32
from nightglass.optics.extent import MAD_TO_SIGMA

SMOOTH_PX = 2.0
APERTURE_PX = 5
"""Half side of the square in which a star's light is summed: sharpening moves light, and sums
keep it."""
RING_PX = 13
"""Half side of the square in which the sky around a star is looked for."""
FIRST_SIGMAS = 12.0
"""Of the smoothed sky: from here on the curve is read pixel by pixel."""
LEAST_PIXELS = 15
LEAST_ALIKE = 0.5
"""Correlation from which shared noise tells the tone."""
WEIGHTS = np.array([0.25, 0.5, 0.25], dtype=np.float32)
"""Of red, green and blue in the light."""


@dataclass(frozen=True)
class Tone:
    """Straight lines between knots; beyond the ends they go on."""

    knots: Floats
    values: Floats
    sky: float
    sky_in_picture: float
    slope: float
    """Of the curve at the sky: picture's light per light of the reference."""

    def __call__(self, light: Floats32) -> Floats32:
        """Return a reference's light in the picture's tone."""
        out = np.interp(light, self.knots, self.values)
        below = self.sky_in_picture + self.slope * (light - self.sky)
        return np.asarray(np.where(light < self.sky, below, out), dtype=np.float32)


def tone_of(
    reference: Floats32,
    picture: Floats32,
    masks: tuple[Flags, Flags],
    slope: float,
) -> Tone:
    """Return the tone of one colour from sky, star light and what is brighter.

    masks: valid pixels, and those of the sky. slope: of the curve at the sky (slopes).
    """
    valid, sky = masks
    level, level_picture = float(np.median(reference[sky])), float(np.median(picture[sky]))
    smooth, smooth_picture = (gaussian_filter(part, SMOOTH_PX) for part in (reference, picture))
    spread = MAD_TO_SIGMA * float(np.median(np.abs(smooth[sky] - np.median(smooth[sky]))))
    knots, values = [level], [level_picture]
    first = level + FIRST_SIGMAS * max(spread, 1e-7)
    bright = valid & (smooth > first)
    if bright.sum() >= LEAST_PIXELS:
        x, y = smooth[bright], smooth_picture[bright]
        knots.append(first)
        values.append(level_picture + slope * (first - level))
        edges = first + np.geomspace(1, max((float(x.max()) - first) / 1e-6, 2), 40) * 1e-6
        for low, high in pairwise(edges):
            inside = (x >= low) & (x < high)
            if inside.sum() >= LEAST_PIXELS and low > first + 0.2 * (first - level):
                knots.append(float(np.median(x[inside])))
                values.append(float(np.median(y[inside])))
    else:
        knots.append(first)
        values.append(level_picture + slope * (first - level))
    last = (values[-1] - values[-2]) / max(knots[-1] - knots[-2], 1e-12)
    knots.append(max(knots[-1] + 1.0, 2.0))
    values.append(values[-1] + max(last, 0.0) * (knots[-1] - knots[-2]))
    return Tone(
        np.array(knots), np.maximum.accumulate(np.array(values)), level, level_picture, slope
    )


def star_light(
    plane: Floats32, sky: Flags, x_px: Floats, y_px: Floats, half: int = APERTURE_PX
) -> Floats:
    """Return the light of stars in squares above the sky around them (n,); nan at the rim."""
    ring = RING_PX
    rows, columns = plane.shape
    out = np.full(len(x_px), np.nan)
    for k, (x, y) in enumerate(zip(np.rint(x_px), np.rint(y_px), strict=True)):
        i, j = int(y), int(x)
        if not (ring <= i < rows - ring and ring <= j < columns - ring):
            continue
        near = (slice(i - ring, i + ring + 1), slice(j - ring, j + ring + 1))
        around = plane[near][sky[near]]
        if around.size < 20:
            continue
        inner = plane[i - half : i + half + 1, j - half : j + half + 1]
        out[k] = float(inner.sum(dtype=np.float64)) - inner.size * float(around.mean())
    return out


def slopes(
    reference: Floats32, picture: Floats32, sky: Flags, stars: tuple[Floats, Floats]
) -> tuple[float, float, float]:
    """Return the slope of each colour's curve at the sky, from (rows, columns, 3) of both.

    Star light gives the colours' slopes to each other; the noise that both pictures share gives
    their size, because smoothing takes light from faint stars and leaves coarse noise alone.
    Where too little is shared (another exposure, a sky smoothed flat) star light gives both.
    """
    found = [_star_slope(reference[..., k], picture[..., k], sky, stars) for k in range(3)]
    light, light_picture = reference @ WEIGHTS, picture @ WEIGHTS
    shared = common_slope([(light, light_picture)], sky)
    if shared is not None and shared[1] > LEAST_ALIKE:
        factor = shared[0] / _star_slope(light, light_picture, sky, stars)
        found = [slope * factor for slope in found]
    return found[0], found[1], found[2]


def _star_slope(
    reference: Floats32, picture: Floats32, sky: Flags, stars: tuple[Floats, Floats]
) -> float:
    """Star light in the picture over that in the reference; of the fainter half of clear stars."""
    own, other = star_light(reference, sky, *stars), star_light(picture, sky, *stars)
    good = np.isfinite(own) & np.isfinite(other) & (own > 0)
    if good.sum() < 4:
        low = float(np.median(reference[sky]))
        return float(np.median(picture[sky])) / max(low, 1e-9)
    own, other = own[good], other[good]
    faint = own <= np.median(own)
    return max(float(np.median(other[faint] / own[faint])), 1e-6)
