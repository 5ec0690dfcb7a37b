"""Star and sky light in electrons: from magnitudes through the pupil to the sensor."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from nightglass.light.defaults import ZERO_POINT
from nightglass.optics.arrays import Floats

SQUARE_ARCSEC_PER_SR = math.degrees(3600.0) ** 2
SQUARE_DEGREES_PER_SR = math.degrees(1.0) ** 2
SQUARE_DEGREES_OF_SKY = 4 * math.pi * SQUARE_DEGREES_PER_SR


@dataclass(frozen=True)
class LightPath:
    """What light passes on its way: pupil [mm^2], transmission, efficiency of a green sample."""

    pupil_area_mm2: float
    transmission: float
    efficiency: float
    """Electrons per V photon."""

    def __post_init__(self) -> None:
        if not (self.pupil_area_mm2 > 0 and math.isfinite(self.pupil_area_mm2)):
            raise ValueError(f"pupil_area_mm2 is {self.pupil_area_mm2:g}; it must be above 0")
        for name in ("transmission", "efficiency"):
            value = getattr(self, name)
            if not 0 < value <= 1:
                raise ValueError(f"{name} is {value:g}; it is a share above 0 and at most 1")

    @property
    def zero_magnitude_e_per_s(self) -> float:
        """Electrons per second of a star of magnitude V = 0 on the axis, were all samples green."""
        square_metres = self.pupil_area_mm2 * 1e-6
        return ZERO_POINT.value * square_metres * self.transmission * self.efficiency


def star_e_per_s(
    magnitude: ArrayLike,
    path: LightPath,
    pupil_falloff: ArrayLike = 1.0,
    extinction_mag: ArrayLike = 0.0,
) -> Floats:
    """Return the electrons per second of stars of V magnitude, were all samples green.

    pupil_falloff: share of the axial pupil at the star's place; extinction_mag: dimming by the
    air [mag]. Broadcast shape. The mosaic's part: nightglass.light.noise.
    """
    m = np.asarray(magnitude, dtype=np.float64) + np.asarray(extinction_mag, dtype=np.float64)
    falloff = np.asarray(pupil_falloff, dtype=np.float64)
    return path.zero_magnitude_e_per_s * falloff * 10.0 ** (-0.4 * m)


def star_magnitude(
    electrons_per_s: ArrayLike,
    path: LightPath,
    pupil_falloff: ArrayLike = 1.0,
    extinction_mag: ArrayLike = 0.0,
) -> Floats:
    """Return the V magnitude of stars from their electrons per second; inverse of star_e_per_s.

    inf for 0 electrons, nan for fewer.
    """
    falloff = np.asarray(pupil_falloff, dtype=np.float64)
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.asarray(electrons_per_s, dtype=np.float64) / (
            path.zero_magnitude_e_per_s * falloff
        )
        return -2.5 * np.log10(ratio) - np.asarray(extinction_mag, dtype=np.float64)


def surface_e_per_s_px(
    mag_per_square_arcsec: ArrayLike,
    path: LightPath,
    pixel_solid_angle_sr: ArrayLike,
    pupil_falloff: ArrayLike = 1.0,
) -> Floats:
    """Return the electrons per second and green pixel of an even light [V mag per square arcsec].

    The brightness is as seen from the ground. pixel_solid_angle_sr: from
    optics.projection.pixel_solid_angle_sr, so that the projection's share of the falloff is in
    it. Broadcast shape.
    """
    square_arcsec = np.asarray(pixel_solid_angle_sr, dtype=np.float64) * SQUARE_ARCSEC_PER_SR
    return star_e_per_s(mag_per_square_arcsec, path, pupil_falloff) * square_arcsec


def added_brightness(first_mag: ArrayLike, second_mag: ArrayLike) -> Floats:
    """Return the brightness of two lights together, all in magnitudes of one kind."""
    light = 10.0 ** (-0.4 * np.asarray(first_mag, dtype=np.float64)) + 10.0 ** (
        -0.4 * np.asarray(second_mag, dtype=np.float64)
    )
    return -2.5 * np.log10(light)
