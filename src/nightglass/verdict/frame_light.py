"""The light of one setting over the frame, in electrons, at one time.

The frame is cut into cells. Each has its own pupil falloff, solid angle and sky.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from nightglass.gear.benchfile import SkyChoice
from nightglass.gear.body import Body
from nightglass.gear.lens import Lens, LensSetting
from nightglass.light.aperture import (
    Transmission,
    cosine_falloff,
    lens_transmission,
    pupil_area_mm2,
)
from nightglass.light.atmosphere import extinction_mag
from nightglass.light.defaults import (
    AIRMASS,
    EFFICIENCY,
    EXTINCTION,
    FALLOFF_ERR,
    MILKY_WAY_BRIGHTNESS,
    SKY_BRIGHTNESS,
)
from nightglass.light.falloff import PupilFalloff
from nightglass.light.iso import ReadNoise, WorkingIso, read_noise_at, working_iso
from nightglass.light.photons import LightPath, surface_e_per_s_px
from nightglass.optics.arrays import Floats
from nightglass.optics.projection import off_axis_degrees, pixel_solid_angle_sr
from nightglass.verdict.paths import trails_px

COLUMNS, ROWS = 12, 8
"""Cells of the frame: 4 times as many move stars and glow by under 1 % (tests/verdict)."""


@dataclass(frozen=True)
class FrameLight:
    """Light of one setting at the cells of the frame: arrays of one value per cell."""

    x_mm: Floats
    y_mm: Floats
    field_radius: Floats
    pixels: float
    """Pixels of a cell."""
    pixel_solid_angle_sr: Floats
    trail_px: Floats
    trail_degrees: Floats
    """From +x toward +y."""
    pupil_falloff: Floats
    sky_e: Floats
    """Sky electrons per green sample during the exposure."""
    glow_e: Floats
    path: LightPath
    exposure_s: float
    extinction_mag: float
    iso: WorkingIso
    read_noise: ReadNoise
    transmission: Transmission
    """Of the lens, as it is known."""
    falloff: PupilFalloff | None = None
    """As it was measured; None: the model cos(angle off axis)."""

    @property
    def gathered_mm2_s(self) -> float:
        """Light that one frame gathers on the axis: pupil area x transmission x time [mm^2 s]."""
        return self.path.pupil_area_mm2 * self.path.transmission * self.exposure_s


def frame_light(
    body: Body,
    lens: Lens,
    setting: LensSetting,
    exposure_s: float,
    sky: SkyChoice,
    falloff: PupilFalloff | None = None,
) -> FrameLight:
    """Return the light of a setting at the cells of the frame; falloff: where it was measured.

    Places that the projection does not show, or that look sideways or back (90 degrees and more
    off the axis, where cos(theta) has no meaning), get nothing. Raises ValueError for a focal
    length, f-number or time of 0 or less.
    """
    if not exposure_s > 0:
        raise ValueError(f"exposure_s is {exposure_s:g}; an exposure is longer than 0 seconds")
    x, y = _cells(body)
    radius_mm = np.hypot(x, y)
    theta = off_axis_degrees(radius_mm, setting.focal_mm, lens.projection)
    shown = np.isfinite(theta) & (theta < 90)
    x, y, radius_mm, theta = x[shown], y[shown], radius_mm[shown], theta[shown]
    transmission = lens_transmission(lens)
    path = _path(body, lens, setting)
    omega = pixel_solid_angle_sr(x, y, body.pitch_um, setting.focal_mm, lens.projection)
    field_radius = radius_mm / (math.hypot(body.width_mm, body.height_mm) / 2)
    pupil = cosine_falloff(theta) if falloff is None else falloff.share(field_radius)
    sky_mag = _chosen(sky.brightness_mag_per_arcsec2, SKY_BRIGHTNESS.value)
    sky_e = exposure_s * surface_e_per_s_px(sky_mag, path, omega, pupil)
    glow_e = exposure_s * surface_e_per_s_px(MILKY_WAY_BRIGHTNESS.value, path, omega, pupil)
    iso = working_iso(body, sky_on_axis_e(body, lens, setting, exposure_s, sky))
    trail_px, trail_degrees = trails_px(x, y, exposure_s, body, lens, setting.focal_mm)
    return FrameLight(
        x_mm=x,
        y_mm=y,
        field_radius=field_radius,
        pixels=body.width_px * body.height_px / (COLUMNS * ROWS),
        pixel_solid_angle_sr=omega,
        trail_px=trail_px,
        trail_degrees=trail_degrees,
        pupil_falloff=pupil,
        sky_e=sky_e,
        glow_e=glow_e,
        path=path,
        exposure_s=exposure_s,
        extinction_mag=float(
            extinction_mag(
                _chosen(sky.airmass, AIRMASS.value), _chosen(sky.extinction_mag, EXTINCTION.value)
            )
        ),
        iso=iso,
        read_noise=read_noise_at(body, iso.iso),
        transmission=transmission,
        falloff=falloff,
    )


def sky_on_axis_e(
    body: Body, lens: Lens, setting: LensSetting, exposure_s: float, sky: SkyChoice
) -> float:
    """Return the sky's electrons per green sample at the frame centre during an exposure.

    The working ISO is chosen by it.
    """
    sky_mag = _chosen(sky.brightness_mag_per_arcsec2, SKY_BRIGHTNESS.value)
    axis_sr = float(pixel_solid_angle_sr(0, 0, body.pitch_um, setting.focal_mm, lens.projection))
    return float(exposure_s * surface_e_per_s_px(sky_mag, _path(body, lens, setting), axis_sr))


def _path(body: Body, lens: Lens, setting: LensSetting) -> LightPath:
    return LightPath(
        pupil_area_mm2(setting.focal_mm, setting.f_number),
        lens_transmission(lens).share,
        EFFICIENCY.value if body.efficiency is None else body.efficiency,
    )


def with_transmission(light: FrameLight, times: float) -> FrameLight:
    """Return the light of a lens that lets so many times as much through, at most all of it."""
    share = min(light.path.transmission * times, 1.0)
    taken = share / light.path.transmission
    return replace(
        light,
        sky_e=light.sky_e * taken,
        glow_e=light.glow_e * taken,
        path=replace(light.path, transmission=share),
    )


def with_darker_corners(light: FrameLight) -> FrameLight:
    """Return the light of a lens whose corners are darker by the falloff's own error (1 sigma).

    Of a falloff that nobody measured: 20 % less at field radius 1, toward the centre with the
    square of the radius.
    """
    left = 1 - FALLOFF_ERR * light.field_radius**2
    if light.falloff is not None:
        left = np.exp(-light.falloff.log_err(light.field_radius))
    return replace(
        light,
        pupil_falloff=light.pupil_falloff * left,
        sky_e=light.sky_e * left,
        glow_e=light.glow_e * left,
    )


def corner_stops(body: Body, lens: Lens, light: FrameLight, focal_mm: float) -> float:
    """Return the stops of star light that the pupil loses in the corner; nan where the projection
    shows no corner."""
    if light.falloff is not None:
        return light.falloff.corner_stops
    corner_mm = math.hypot(body.width_mm, body.height_mm) / 2
    theta = float(off_axis_degrees(corner_mm, focal_mm, lens.projection))
    return -math.log2(math.cos(math.radians(theta))) if theta < 90 else math.nan


def _cells(body: Body) -> tuple[Floats, Floats]:
    """Centres of the cells [mm from the frame centre]."""
    x = ((np.arange(COLUMNS) + 0.5) / COLUMNS - 0.5) * body.width_mm
    y = ((np.arange(ROWS) + 0.5) / ROWS - 0.5) * body.height_mm
    grid_x, grid_y = np.meshgrid(x, y)
    return grid_x.ravel(), grid_y.ravel()


def _chosen(value: float | None, default: float) -> float:
    return default if value is None else value
