"""The lens's own spot of one zone, motion taken out, and its measures."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from nightglass.optics.arrays import Floats
from nightglass.optics.compiled import compiled
from nightglass.optics.extent import RING_INNER, RING_OUTER, extent, quantiles, within
from nightglass.sky.zones.drawn_spot import SHAPE, spot_image
from nightglass.sky.zones.joint_fit import ZoneFit, rough_length
from nightglass.sky.zones.spot_fill import Filled
from nightglass.sky.zones.trail_fit import LENS

FINE = 4
"""Samples per pixel of a spot's picture."""
DRAWS = 16
LARGEST_PX = 60.0
"""Half side of the largest picture."""


@dataclass(frozen=True)
class LensSpot:
    """A zone's spot without any motion, with 1-sigma errors of the fit alone [px]."""

    length_px: float
    length_px_err: float
    width_px: float
    width_px_err: float
    angle_degrees: float
    lean: float
    lean_err: float
    image: Floats
    """FINE samples per pixel, sum 1."""


def lens_spot(fit: ZoneFit, filled: Filled, pictured: Filled, radial_degrees: float) -> LensSpot:
    """Return a zone's spot and its measures by the definitions of one star spot.

    filled: with a wide prior, for the measures; pictured: with the narrow one, for the picture.
    radial_degrees: outward direction for the lean. Raises NoLightError where the fit holds no
    light, ImageTooSmallError where the light outgrows the picture.
    """
    shape = fit.lens[:SHAPE]
    side = 2 * math.ceil(FINE * min(3.4 * max(rough_length(shape), 3.4) + 3, LARGEST_PX)) + 1
    plain = spot_image(shape, side, FINE)
    image = plain.copy()
    add_parts(image, filled.parts, filled.heights, FINE)
    seen = extent(image, 1 / FINE)
    place, turn = (seen.x_px, seen.y_px), math.radians(radial_degrees)
    level = _ring_level(image, place, seen.aperture_px)
    rng = np.random.default_rng(0)
    drawn = rng.multivariate_normal(filled.heights, filled.covariance, size=DRAWS, method="eigh")
    shapes = rng.multivariate_normal(shape, _shape_covariance(fit, filled), DRAWS, method="eigh")
    tried = np.empty((DRAWS, 3))
    for k, draw in enumerate(drawn):
        other = spot_image(shapes[k], side, FINE)
        add_parts(other, filled.parts, draw, FINE)
        other -= _ring_level(other, place, seen.aperture_px)
        one = within(other, 1 / FINE, *place, seen.aperture_px)
        tried[k] = one.length_px, one.width_px, _lean(other, place, seen.aperture_px, turn)
    err = tried.std(axis=0)
    add_parts(plain, pictured.parts, pictured.heights, FINE)
    return LensSpot(
        length_px=seen.length_px,
        length_px_err=float(err[0]),
        width_px=seen.width_px,
        width_px_err=float(err[1]),
        angle_degrees=seen.angle_degrees,
        lean=_lean(image - level, place, seen.aperture_px, turn),
        lean_err=float(err[2]),
        image=plain / plain.sum(),
    )


@compiled
def add_parts(image, parts, light, fine):  # type: ignore[no-untyped-def]
    """Add round Gaussians to a picture of `fine` samples per pixel about its middle."""
    middle = image.shape[0] // 2
    for k in range(parts.shape[0]):
        sigma = parts[k, 2] * fine
        x, y = middle + parts[k, 0] * fine, middle + parts[k, 1] * fine
        reach = math.ceil(5 * sigma)
        left, right = max(int(x) - reach, 0), min(int(x) + reach + 1, image.shape[1])
        across = np.empty(max(right - left, 0))
        for j in range(left, right):
            across[j - left] = math.exp(-0.5 * ((j - x) / sigma) ** 2)
        height = light[k] / (2 * math.pi * parts[k, 2] * parts[k, 2])
        for i in range(max(int(y) - reach, 0), min(int(y) + reach + 1, image.shape[0])):
            down = height * math.exp(-0.5 * ((i - y) / sigma) ** 2)
            for j in range(left, right):
                image[i, j] += down * across[j - left]


def _shape_covariance(fit: ZoneFit, filled: Filled) -> Floats:
    """Of the two-part spot's parameters, what their priors hold among it."""
    covariance = np.linalg.pinv(fit.normal[:LENS, :LENS], rcond=1e-12, hermitian=True)
    return np.asarray(covariance[:SHAPE, :SHAPE] * max(1.0, filled.miss) ** 2)


def _ring_level(image: Floats, place: tuple[float, float], radius: float) -> float:
    """Mean in the ring of the background."""
    axis = np.arange(image.shape[0]) / FINE
    away = np.hypot(axis[None, :] - place[0], axis[:, None] - place[1])
    return float(image[(away >= RING_INNER * radius) & (away <= RING_OUTER * radius)].mean())


def _lean(image: Floats, place: tuple[float, float], radius: float, turn: float) -> float:
    low, half, high = quantiles(image, 1 / FINE, place, radius, turn, (0.05, 0.5, 0.95))
    return (high + low - 2 * half) / (high - low)
