"""What a setting is worth: stars and glow in electrons, over the whole frame, at one time.

The frame is cut into cells. Each has its own pupil falloff, solid angle, trail and blur; between
measured zones the noise area is interpolated over field radius.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from nightglass.almanac.trail import trail_mm
from nightglass.bench.records import ZoneResult
from nightglass.gear.benchfile import SkyChoice
from nightglass.gear.body import Body
from nightglass.gear.lens import Lens, LensSetting
from nightglass.light.aperture import cosine_falloff, lens_transmission, pupil_area_mm2
from nightglass.light.atmosphere import extinction_mag
from nightglass.light.counts import COUNTS_END_G, stars_per_square_degree
from nightglass.light.defaults import (
    AIRMASS,
    EFFICIENCY,
    EXTINCTION,
    MILKY_WAY_BRIGHTNESS,
    SKY_BRIGHTNESS,
    STAR_CROWDING,
    V_MINUS_G,
)
from nightglass.light.iso import ReadNoise, WorkingIso, read_noise_at, working_iso
from nightglass.light.noise import (
    glow_snr,
    limiting_star_e,
    mosaic_mix,
    pixels_per_square_degree,
)
from nightglass.light.photons import (
    SQUARE_DEGREES_PER_SR,
    LightPath,
    star_magnitude,
    surface_e_per_s_px,
)
from nightglass.optics.arrays import Flags, Floats
from nightglass.optics.projection import off_axis_degrees, pixel_solid_angle_sr
from nightglass.verdict.blur import (
    equator_aim,
    ring_weights,
    stamp_direction,
    trailed_area_factor,
    zone_noise_area_px,
)

COLUMNS, ROWS = 12, 8
"""Cells of the frame: 4 times as many move stars and glow by under 1 % (tests/verdict)."""
_STEP = 0.1
"""Relative step of the noise area from which its power in the star count is taken."""


@dataclass(frozen=True)
class FrameLight:
    """Light of one setting at the cells of the frame: arrays of one value per cell."""

    x_mm: Floats
    y_mm: Floats
    field_radius: Floats
    pixels: float
    """Pixels of a cell."""
    pixel_solid_angle_sr: Floats
    pupil_falloff: Floats
    sky_e: Floats
    """Sky electrons per green sample during the exposure."""
    glow_e: Floats
    path: LightPath
    exposure_s: float
    extinction_mag: float
    iso: WorkingIso
    read_noise: ReadNoise


@dataclass(frozen=True)
class StarCount:
    """Stars of one frame, and how the zones' noise areas move their number."""

    stars: float
    lost_to_cap: float
    powers: tuple[float, ...]
    """d ln(stars) / d ln(noise area of the untrailed spot), one per zone."""
    untested_share: float
    """Share of the image that no zone speaks for: no star is counted there."""
    beyond_counts: bool
    """True if a place goes deeper than the star counts: it is counted to their end."""


def frame_light(
    body: Body, lens: Lens, setting: LensSetting, exposure_s: float, sky: SkyChoice
) -> FrameLight:
    """Return the light of a setting at the cells of the frame.

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
    path = LightPath(
        pupil_area_mm2(setting.focal_mm, setting.f_number),
        lens_transmission(lens).share,
        EFFICIENCY.value if body.efficiency is None else body.efficiency,
    )
    omega = pixel_solid_angle_sr(x, y, body.pitch_um, setting.focal_mm, lens.projection)
    pupil = cosine_falloff(theta)
    sky_mag = _chosen(sky.brightness_mag_per_arcsec2, SKY_BRIGHTNESS.value)
    sky_e = exposure_s * surface_e_per_s_px(sky_mag, path, omega, pupil)
    glow_e = exposure_s * surface_e_per_s_px(MILKY_WAY_BRIGHTNESS.value, path, omega, pupil)
    axis_sr = float(pixel_solid_angle_sr(0, 0, body.pitch_um, setting.focal_mm, lens.projection))
    iso = working_iso(body, float(exposure_s * surface_e_per_s_px(sky_mag, path, axis_sr)))
    return FrameLight(
        x_mm=x,
        y_mm=y,
        field_radius=radius_mm / (math.hypot(body.width_mm, body.height_mm) / 2),
        pixels=body.width_px * body.height_px / (COLUMNS * ROWS),
        pixel_solid_angle_sr=omega,
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
    )


def glow(light: FrameLight, body: Body) -> float:
    """Return the signal-to-noise of the Milky Way's even light per square degree, averaged over
    the solid angle of the frame, read noise included."""
    snr = glow_snr(
        light.glow_e,
        light.sky_e,
        light.read_noise.electrons,
        pixels_per_square_degree(light.pixel_solid_angle_sr),
        mosaic_mix(body.mosaic),
    )
    return float(np.average(snr, weights=light.pixel_solid_angle_sr))


def star_count(
    light: FrameLight, zones: Sequence[ZoneResult], body: Body, lens: Lens, focal_mm: float
) -> StarCount:
    """Return how many stars one frame records at SNR 5 over the tested part of the frame.

    zones: those with a length (blur.usable_zones). Per cell the limiting magnitude of its trailed
    spot, at most one star per 30 noise areas. Raises ValueError without zones.
    """
    if not zones:
        raise ValueError("no zone has a length: measure at least one place of the frame")
    weights = ring_weights(zones, light.field_radius)
    tested = ~np.isnan(weights[0])
    log_area, slopes = _log_areas(light, zones, body, lens, focal_mm)
    log_mean = np.where(tested, np.nansum(weights * log_area, axis=0), 0.0)
    counted, lost, deep = _stars_per_cell(light, np.exp(log_mean), body)
    more, _, _ = _stars_per_cell(light, np.exp(log_mean) * (1 + _STEP), body)
    stars = float(counted[tested].sum())
    # Powers of the counts at each cell, handed to the zones by their weight there.
    with np.errstate(divide="ignore", invalid="ignore"):
        power = np.where(counted > 0, np.log(more / counted) / math.log1p(_STEP), 0.0)
    share = np.where(tested, counted, 0.0) / stars if stars > 0 else np.zeros_like(counted)
    powers = np.nansum(weights * slopes * power * share, axis=1)
    return StarCount(
        stars=stars,
        lost_to_cap=float(lost[tested].sum()),
        powers=tuple(float(p) for p in powers),
        untested_share=float(1 - tested.mean()),
        beyond_counts=bool(np.any(deep[tested])),
    )


def _cells(body: Body) -> tuple[Floats, Floats]:
    """Centres of the cells [mm from the frame centre]."""
    x = ((np.arange(COLUMNS) + 0.5) / COLUMNS - 0.5) * body.width_mm
    y = ((np.arange(ROWS) + 0.5) / ROWS - 0.5) * body.height_mm
    grid_x, grid_y = np.meshgrid(x, y)
    return grid_x.ravel(), grid_y.ravel()


def _log_areas(
    light: FrameLight, zones: Sequence[ZoneResult], body: Body, lens: Lens, focal_mm: float
) -> tuple[Floats, Floats]:
    """ln of each zone's trailed noise area at each cell, and its power in the untrailed one."""
    trail = trail_mm(
        light.x_mm, light.y_mm, light.exposure_s, focal_mm, equator_aim(body), lens.projection
    )
    trail_px = np.nan_to_num(trail.length_mm) * 1000 / body.pitch_um
    direction = np.nan_to_num(trail.angle_degrees)
    place = np.degrees(np.arctan2(light.y_mm, light.x_mm))
    logs, slopes = [], []
    for zone in zones:
        area = zone_noise_area_px(zone) or math.nan
        against = stamp_direction(zone, body, place, direction)
        logs.append(math.log(area) + np.log(trailed_area_factor(zone, trail_px, against)))
        # A round Gaussian of this area: across the trail it grows in full, along it the less
        # the longer the trail. Exact for it, and near enough for the size of an error bar.
        variance = area / (4 * math.pi)
        slopes.append(0.5 + 0.5 * variance / (variance + trail_px**2 / 12))
    return np.array(logs), np.array(slopes)


def _stars_per_cell(
    light: FrameLight, noise_area_px: Floats, body: Body
) -> tuple[Floats, Floats, Flags]:
    """Stars counted and lost to the cap per cell, and whether the star counts end there."""
    electrons = limiting_star_e(
        noise_area_px, light.sky_e, light.read_noise.electrons, mosaic_mix(body.mosaic)
    )
    magnitude = star_magnitude(
        electrons / light.exposure_s, light.path, light.pupil_falloff, light.extinction_mag
    )
    faintest_g = magnitude - V_MINUS_G.value
    deep = faintest_g > COUNTS_END_G
    square_degrees = light.pixel_solid_angle_sr * light.pixels * SQUARE_DEGREES_PER_SR
    there = stars_per_square_degree(np.minimum(faintest_g, COUNTS_END_G)) * square_degrees
    counted = np.minimum(there, light.pixels / (STAR_CROWDING.value * noise_area_px))
    return counted, there - counted, deep


def _chosen(value: float | None, default: float) -> float:
    return default if value is None else value
