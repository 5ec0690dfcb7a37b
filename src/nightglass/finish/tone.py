"""The tone of a developed picture: its light as a rising curve of the reference's, per colour."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from nightglass.finish.bands import common_slope
from nightglass.finish.picture import WEIGHTS, light_of
from nightglass.finish.sampled import Squares, gathered, some
from nightglass.finish.smoothing import smoothed
from nightglass.optics.arrays import Flags, Floats, Floats32
from nightglass.optics.compiled import compiled
from nightglass.optics.extent import MAD_TO_SIGMA

SMOOTH_PX = 2.0
APERTURE_PX = 5
"""Half side of the square in which a star's light is summed: sharpening moves light, and sums
keep it."""
RING_PX = 13
"""Half side of the square in which the sky around a star is looked for."""
LEAST_AROUND = 20
"""Pixels of sky in it."""
FIRST_SIGMAS = 12.0
"""Of the smoothed sky: from here on the curve is read pixel by pixel."""
LEAST_PIXELS = 15
LEAST_ALIKE = 0.5
"""Correlation from which shared noise tells the tone."""


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
    level, level_picture = (float(np.median(some(part, sky))) for part in (reference, picture))
    smooth = smoothed(reference, SMOOTH_PX)
    quiet = some(smooth, sky)
    spread = MAD_TO_SIGMA * float(np.median(np.abs(quiet - np.median(quiet))))
    knots, values = [level], [level_picture]
    first = level + FIRST_SIGMAS * max(spread, 1e-7)
    bright = valid & (smooth > first)
    if bright.sum() >= LEAST_PIXELS:
        x, y = smooth[bright], smoothed(picture, SMOOTH_PX)[bright]
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
    planes: Floats32, sky: Flags, x_px: Floats, y_px: Floats, half: int = APERTURE_PX
) -> Floats:
    """Return the light of stars in squares above the sky around them; nan at the rim.

    planes: (rows, columns) gives (n,); (rows, columns, 3) gives (n, 3).
    """
    cube = np.ascontiguousarray(planes if planes.ndim == 3 else planes[..., None])
    places = np.rint(np.column_stack((y_px, x_px))).astype(np.int64)
    out = np.full((len(places), cube.shape[2]), np.nan)
    _star_light(cube, np.ascontiguousarray(sky), places, half, out)
    return out if planes.ndim == 3 else out[:, 0]


@compiled
def _star_light(cube, sky, places, half, out):  # type: ignore[no-untyped-def]
    rows, columns, colours = cube.shape
    ring = RING_PX
    for s in range(places.shape[0]):
        i, j = places[s, 0], places[s, 1]
        if not (ring <= i < rows - ring and ring <= j < columns - ring):
            continue
        pixels = 0
        around = np.zeros(colours)
        inner = np.zeros(colours)
        for v in range(i - ring, i + ring + 1):
            for u in range(j - ring, j + ring + 1):
                if sky[v, u]:
                    pixels += 1
                    for k in range(colours):
                        around[k] += cube[v, u, k]
        if pixels < LEAST_AROUND:
            continue
        for v in range(i - half, i + half + 1):
            for u in range(j - half, j + half + 1):
                for k in range(colours):
                    inner[k] += cube[v, u, k]
        for k in range(colours):
            out[s, k] = inner[k] - (2 * half + 1) ** 2 * around[k] / pixels


def slopes(
    reference: Floats32,
    picture: Floats32,
    sky: Flags,
    stars: tuple[Floats, Floats],
    squares: Squares = (),
) -> tuple[float, float, float]:
    """Return the slope of each colour's curve at the sky, from (rows, columns, 3) of both.

    Star light gives the colours' slopes to each other; the noise that both pictures share gives
    their size, because smoothing takes light from faint stars and leaves coarse noise alone.
    Where too little is shared (another exposure, a sky smoothed flat) star light gives both.
    squares: those whose noise is looked at.
    """
    own, other = (star_light(part, sky, *stars) for part in (reference, picture))
    levels = [
        [float(np.median(some(p[..., k], sky))) for p in (reference, picture)] for k in range(3)
    ]
    found = [_star_slope(own[:, k], other[:, k], levels[k]) for k in range(3)]
    pair = [light_of(gathered(part, squares)) for part in (reference, picture)]
    shared = common_slope([(pair[0], pair[1])], gathered(sky, squares))
    if shared is not None and shared[1] > LEAST_ALIKE:
        weights = WEIGHTS.astype(np.float64)
        factor = shared[0] / _star_slope(
            own @ weights, other @ weights, list(weights @ np.array(levels))
        )
        found = [slope * factor for slope in found]
    return found[0], found[1], found[2]


def _star_slope(own: Floats, other: Floats, levels: Sequence[float]) -> float:
    """Star light in the picture over that in the reference; of the fainter half of clear stars.

    levels: of the sky in reference and picture, for want of stars.
    """
    good = np.isfinite(own) & np.isfinite(other) & (own > 0)
    if good.sum() < 4:
        return float(levels[1]) / max(float(levels[0]), 1e-9)
    own, other = own[good], other[good]
    faint = own <= np.median(own)
    return max(float(np.median(other[faint] / own[faint])), 1e-6)
