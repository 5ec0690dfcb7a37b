"""How deep a frame goes, and how many frames do the same: light, sky and read noise together."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from nightglass.light.aperture import pupil_area_mm2
from nightglass.light.counts import stars_per_square_degree
from nightglass.light.defaults import (
    DETECTION_SNR,
    EFFICIENCY,
    SKY_BRIGHTNESS,
    TRANSMISSION,
    V_MINUS_G,
)
from nightglass.light.iso import ReadNoise, read_noise_at, working_iso
from nightglass.light.noise import limiting_star_e, mosaic_mix, noise_lengthening_percent, star_snr
from nightglass.light.photons import LightPath, star_e_per_s, star_magnitude, surface_e_per_s_px
from nightglass.optics.projection import pixel_solid_angle_sr
from nightglass.plan.camera import Shot

NOISE_AREA_PX = 12.0
"""Noise area of a star's spot where nothing was measured [px]: a Gaussian of 2.3 px FWHM, common
practice for a good wide lens; the same for both sides of a comparison."""


BRIGHTEST_SKY_MAG, DARKEST_SKY_MAG = 14.0, 23.0
"""A sky that anybody photographs at night lies between; natural darkness is near 22."""


@dataclass(frozen=True)
class DepthChoice:
    """What was taken for sky, spot and glass."""

    sky_mag: float = SKY_BRIGHTNESS.value
    noise_area_px: float = NOISE_AREA_PX
    transmission: float = TRANSMISSION.value

    def __post_init__(self) -> None:
        check_sky_mag(self.sky_mag)
        if not self.noise_area_px > 0:
            raise ValueError(f"a noise area of {self.noise_area_px:g} px; it is above 0")


@dataclass(frozen=True)
class Depth:
    """What one frame of a setting records at its centre."""

    exposure_s: float
    sky_e: float
    """Per green sample."""
    read_noise_e: float
    read_noise: ReadNoise
    iso: int | None
    limiting_mag: float
    """V of the faintest star at SNR 5."""
    read_noise_lengthens_percent: float


def check_sky_mag(sky_mag: float) -> None:
    """Raise ValueError for a sky brightness that no night sky has [mag per square arcsecond]."""
    if not BRIGHTEST_SKY_MAG <= sky_mag <= DARKEST_SKY_MAG:
        raise ValueError(
            f"a sky of {sky_mag:g} mag per square arcsecond is none at night; it goes from "
            f"{BRIGHTEST_SKY_MAG:g} (a lit town) to {DARKEST_SKY_MAG:g}, a dark one has 21.5 to 22"
        )


def depth(shot: Shot, exposure_s: float, choice: DepthChoice | None = None) -> Depth:
    """Return what one frame of true exposure time records at its centre.

    Raises ValueError for an exposure of 0 or less.
    """
    taken = choice or DepthChoice()
    if not exposure_s > 0:
        raise ValueError(f"exposure_s is {exposure_s:g}; an exposure time is above 0 seconds")
    path = _path(shot, taken)
    sky_e = exposure_s * _sky_e_per_s(shot, path, taken)
    iso = working_iso(shot.body, sky_e).iso
    noise = read_noise_at(shot.body, iso)
    faintest = limiting_star_e(
        taken.noise_area_px, sky_e, noise.electrons, mosaic_mix(shot.body.mosaic)
    )
    return Depth(
        exposure_s=exposure_s,
        sky_e=sky_e,
        read_noise_e=noise.electrons,
        read_noise=noise,
        iso=iso,
        limiting_mag=float(star_magnitude(float(faintest) / exposure_s, path)),
        read_noise_lengthens_percent=float(noise_lengthening_percent(noise.electrons, sky_e)),
    )


def snr_of(
    shot: Shot, exposure_s: float, magnitude: float, choice: DepthChoice | None = None
) -> float:
    """Return the signal-to-noise of a star of V magnitude in one frame, at its centre."""
    taken = choice or DepthChoice()
    one = depth(shot, exposure_s, taken)
    star_e = float(star_e_per_s(magnitude, _path(shot, taken))) * exposure_s
    mix = mosaic_mix(shot.body.mosaic)
    return float(star_snr(star_e, taken.noise_area_px, one.sky_e, one.read_noise_e, mix))


def frames_for(shot: Shot, exposure_s: float, magnitude: float, choice: DepthChoice | None) -> int:
    """Return how many frames, averaged, show a star of V magnitude at SNR 5 (noise 1/sqrt(n))."""
    ratio = DETECTION_SNR.value / snr_of(shot, exposure_s, magnitude, choice)
    # One part in 1e9: a star at the limit itself needs one frame.
    return max(1, int(np.ceil(ratio**2 * (1 - 1e-9))))


def limiting_mag_of(
    shot: Shot, exposure_s: float, frames: int, choice: DepthChoice | None = None
) -> float:
    """Return the V magnitude of the faintest star at SNR 5 in the mean of so many frames.

    That is the star with SNR 5 / sqrt(frames) in each.
    """
    taken = choice or DepthChoice()
    one = depth(shot, exposure_s, taken)
    snr = DETECTION_SNR.value / float(np.sqrt(frames))
    mix = mosaic_mix(shot.body.mosaic)
    faintest = limiting_star_e(taken.noise_area_px, one.sky_e, one.read_noise_e, mix, snr)
    return float(star_magnitude(float(faintest) / exposure_s, _path(shot, taken)))


def stars_per_degree2(limiting_mag: float) -> float:
    """Return stars per square degree of the mean sky down to a V magnitude."""
    return float(stars_per_square_degree(limiting_mag - V_MINUS_G.value))


def light_stops(one: Shot, one_s: float, other: Shot, other_s: float) -> float:
    """Return light gathered per patch of sky, one over the other [stops]: D^2 x time."""
    area = pupil_area_mm2(one.focal_mm, one.f_number) / pupil_area_mm2(
        other.focal_mm, other.f_number
    )
    return float(np.log2(area * one_s / other_s))


def _path(shot: Shot, taken: DepthChoice) -> LightPath:
    efficiency = shot.body.efficiency or EFFICIENCY.value
    return LightPath(pupil_area_mm2(shot.focal_mm, shot.f_number), taken.transmission, efficiency)


def _sky_e_per_s(shot: Shot, path: LightPath, taken: DepthChoice) -> float:
    angle = pixel_solid_angle_sr(0.0, 0.0, shot.body.pitch_um, shot.focal_mm, shot.projection)
    return float(surface_e_per_s_px(taken.sky_mag, path, angle))
