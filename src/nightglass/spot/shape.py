"""The rebuilt spot of one colour, and how its measures move with what is not known.

What a single frame can't tell (the exact brightness ratios of the colours, their offsets, how
smooth the spot is between the samples) is varied; the scatter of the measures under these
variations, scaled by what simulations showed, is the error of the method.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from nightglass.optics.arrays import Floats
from nightglass.optics.extent import (
    APERTURE_LEAST_PX,
    APERTURE_LENGTHS,
    FLAT_GROWTH,
    NoLightError,
    WeakLightError,
    quantiles,
    within,
)
from nightglass.spot.measures import Measures, each
from nightglass.spot.patch import Background, Patch, above_background, background, inner, offsets
from nightglass.spot.rebuild import DISTRUST, MARGIN, Kernels, Ties, kernels, predict
from nightglass.spot.ties import KnownTies, fit_ties

SMOOTH_PX, SHARP_PX = 1.5, 0.8
"""Smoothness of the prediction, and the other one with which it is compared.
Chosen by design/spot_rebuild.py."""

SHARPEST_AREA_PX = 1.5
"""Noise area from which the ties start: a sharp spot taken for a broad one would keep up the
error, its nucleus read as an odd brightness of one colour; the other way round mends itself."""
TIE_ROUNDS = 3
ROOM_PX = MARGIN + 3
"""Samples around the aperture that the rebuilding reads."""


@dataclass(frozen=True)
class Shape:
    """Measures of one colour, and how they scatter with what the frame can't tell (1-sigma)."""

    values: Measures
    scatter: Measures
    alone: Measures | None
    """The values with no gap filled from other colours; None where none was filled anyway."""
    light: Floats
    """Rebuilt light above background on whole pixels, (rows, columns), aperture and margin."""
    left_px: int
    top_px: int
    known: KnownTies
    ground: Background
    part: Patch
    """The samples that the rebuilding read."""
    net: Floats
    """Their light above background."""


def steps_for(radius_px: float) -> int:
    """Return how many sub-pixel places per axis a spot of this aperture is rebuilt on."""
    return 3 if radius_px < 14 else 2 if radius_px < 30 else 1


@dataclass(frozen=True)
class _Rebuild:
    patch: Patch
    net: Floats
    steps: int
    radial_rad: float

    def image(self, kernel: Kernels, ratio: Floats) -> Floats:
        return predict(self.net / ratio[self.patch.colour], self.patch.places, kernel)

    def measure(self, image: Floats, x_px: float, y_px: float, radius_px: float) -> Measures:
        """Return the measures, places in raw pixels of the frame."""
        # Raw coordinates of the first sub-pixel sample.
        back = MARGIN - (self.steps - 1) / (2 * self.steps)
        x0, y0 = self.patch.left_px + back, self.patch.top_px + back
        step = 1 / self.steps
        found = within(image, step, x_px - x0, y_px - y0, radius_px)
        centre = (found.x_px, found.y_px)
        low, middle, high = quantiles(
            image, step, centre, radius_px, self.radial_rad, (0.05, 0.5, 0.95)
        )
        return Measures(
            x_px=found.x_px + x0,
            y_px=found.y_px + y0,
            length_px=found.length_px,
            width_px=found.width_px,
            angle_degrees=found.angle_degrees,
            ee50_px=found.ee50_px,
            ee80_px=found.ee80_px,
            noise_area_px=found.noise_area_px,
            aperture_px=found.aperture_px,
            flux=found.flux,
            lean=(high + low - 2 * middle) / (high - low),
        )


def grow(
    patch: Patch, x_px: float, y_px: float, target: int, largest_px: float
) -> tuple[float, float, float] | None:
    """Return centre and aperture radius, grown outward from 5 px; None if larger than allowed.

    A quick pass on whole pixels. Raises NoLightError where the light is too weak to hold the
    centre inside the aperture that it started from.
    """
    radius, start = APERTURE_LEAST_PX, (x_px, y_px)
    kernel = kernels(patch.pattern, Ties(np.ones(3), np.zeros((3, 2)), np.zeros(3)), SMOOTH_PX)
    length, area = 3.0, SHARPEST_AREA_PX
    for _ in range(40):
        ground = background(patch, x_px, y_px, radius)
        part = inner(patch, x_px, y_px, math.ceil(radius) + ROOM_PX)
        net = above_background(part, ground, x_px, y_px)
        inside = distance(part, x_px, y_px) <= radius
        known = fit_ties(part, net, inside, target, length, area)
        rebuild = _Rebuild(part, net, 1, 0.0)
        try:
            found = rebuild.measure(rebuild.image(kernel, known.ties.ratio), x_px, y_px, radius)
        except WeakLightError:
            raise
        except NoLightError:
            # Aperture and ring lie inside one flat disc, which the plane takes for background.
            radius *= FLAT_GROWTH
            if radius > largest_px:
                return None
            continue
        x_px, y_px = found.x_px, found.y_px
        length, area = found.length_px, found.noise_area_px
        wanted = max(APERTURE_LEAST_PX, APERTURE_LENGTHS * length)
        _check_held((x_px, y_px), start, max(radius, wanted))
        if abs(wanted - radius) < 0.02 * radius:
            break
        radius = wanted
        if radius > largest_px:
            return None
    return x_px, y_px, radius


def distance(patch: Patch, x_px: float, y_px: float) -> Floats:
    """Return the distance [px] of every sample of a patch from a place."""
    return np.hypot(*offsets(patch, x_px, y_px))


def measure_shape(
    patch: Patch,
    start: tuple[float, float, float],
    target: int,
    optical_centre_px: tuple[float, float],
    unused: tuple[int, ...] = (),
) -> Shape:
    """Return the shape of one colour, from a start (x, y, aperture radius) [px].

    unused: colours whose samples must not fill gaps (clipped ones). Raises NoLightError when the
    light inside sums to zero or less, or is too weak to hold its place.
    """
    x, y, radius = start
    steps = steps_for(radius)
    length, area = radius / APERTURE_LENGTHS, SHARPEST_AREA_PX
    for round_ in range(TIE_ROUNDS + 2):
        ground = background(patch, x, y, radius)
        part = inner(patch, x, y, math.ceil(radius) + ROOM_PX)
        net = above_background(part, ground, x, y)
        rebuild = _Rebuild(
            part, net, steps, math.atan2(y - optical_centre_px[1], x - optical_centre_px[0])
        )
        if round_ < TIE_ROUNDS:
            inside = distance(part, x, y) <= radius
            known = fit_ties(part, net, inside, target, length, area, unused)
            kernel = kernels(patch.pattern, known.ties, SMOOTH_PX, steps)
        image = rebuild.image(kernel, known.ties.ratio)
        found = rebuild.measure(image, x, y, radius)
        x, y = found.x_px, found.y_px
        length, area = found.length_px, found.noise_area_px
        wanted = max(APERTURE_LEAST_PX, APERTURE_LENGTHS * length)
        _check_held((x, y), start[:2], start[2])
        # The patch was cut for the aperture of the quick pass; no spot doubles it.
        wanted = min(wanted, 2 * start[2])
        if round_ >= TIE_ROUNDS - 1 and abs(wanted - radius) < 0.004 * radius:
            break
        radius = wanted
    whole = image.reshape(image.shape[0] // steps, steps, image.shape[1] // steps, steps)
    return Shape(
        values=found,
        scatter=_scatter(rebuild, kernel, known, found, target),
        alone=_alone(rebuild, known, found, target),
        light=whole.mean(axis=(1, 3)),
        left_px=part.left_px + MARGIN,
        top_px=part.top_px + MARGIN,
        known=known,
        ground=ground,
        part=part,
        net=net,
    )


def _check_held(now: tuple[float, float], start: tuple[float, float], radius_px: float) -> None:
    """Raise NoLightError where the centre has left the aperture around where it started."""
    walked = math.hypot(now[0] - start[0], now[1] - start[1])
    if walked > radius_px:
        raise NoLightError(
            f"the centre walked {walked:.1f} px, out of its aperture of {radius_px:.1f} px: "
            "too little light in this colour"
        )


def _alone(rebuild: _Rebuild, known: KnownTies, found: Measures, target: int) -> Measures | None:
    """Return the values at the same place and aperture, the other colours left out."""
    pattern, ties = rebuild.patch.pattern, known.ties
    trust = np.where(np.arange(3) == target, 0.0, DISTRUST)
    if len(np.unique(pattern)) == 1 or np.array_equal(trust, ties.trust):
        return None
    image = rebuild.image(
        kernels(pattern, Ties(ties.ratio, ties.offset_px, trust), SMOOTH_PX, rebuild.steps),
        ties.ratio,
    )
    return rebuild.measure(image, found.x_px, found.y_px, found.aperture_px)


def _scatter(
    rebuild: _Rebuild, kernel: Kernels, known: KnownTies, found: Measures, target: int
) -> Measures:
    """Return the root of the summed squares of what each unknown does to each value."""
    x, y, radius = found.x_px, found.y_px, found.aperture_px
    pattern, ties = rebuild.patch.pattern, known.ties
    images = [rebuild.image(kernels(pattern, ties, SHARP_PX, rebuild.steps), ties.ratio)]
    for c in range(3):
        if c == target or ties.trust[c] > 0 or not np.any(pattern == c):
            continue
        ratio = ties.ratio.copy()
        ratio[c] *= math.exp(known.log_ratio_err)
        images.append(rebuild.image(kernel, ratio))
        for axis in range(2):
            offset = ties.offset_px.copy()
            offset[c, axis] += known.offset_err_px
            shifted = kernels(
                pattern, Ties(ties.ratio, offset, ties.trust), SMOOTH_PX, rebuild.steps
            )
            images.append(rebuild.image(shifted, ties.ratio))
    moved = [rebuild.measure(image, x, y, radius) for image in images]

    def root(name: str, usual: float, *others: float) -> float:
        steps = [other - usual for other in others]
        if name == "angle_degrees":
            steps = [(step + 90) % 180 - 90 for step in steps]
        return math.sqrt(sum(step * step for step in steps))

    return each(root, found, *moved)
