"""A frame in even cells: what bench and night predict of a star in each of them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.ndimage import gaussian_filter
from scipy.special import ndtr

from nightglass.bench.records import Combined, ZoneResult
from nightglass.gear.benchfile import BenchFile
from nightglass.gear.lens import LensSetting
from nightglass.light.falloff import PupilFalloff
from nightglass.light.noise import mosaic_mix
from nightglass.optics.arrays import Flags, Floats
from nightglass.optics.extent import GAUSSIAN_LENGTH, trailed
from nightglass.proof.sight import Sight, colour_ratios
from nightglass.sky.astrometry.camera import pixel_area_arcsec2
from nightglass.sky.photometry.conditions import Night, in_open_sky
from nightglass.sky.stars.background import noise_at
from nightglass.verdict.blur import (
    ring_weights,
    spot_image,
    stamp_direction,
    trailed_area_factor,
    zone_noise_area_px,
)

CELLS = (16, 24)

COLOUR_STARS = 150


@dataclass(frozen=True)
class NightCase:
    """Everything that the predictions of one frame rest on."""

    sight: Sight
    night: Night
    zones: Sequence[ZoneResult]
    setting: LensSetting
    bench: BenchFile
    iso: int | None = None
    aim_altitude_degrees: float | None = None
    log_area_err: float = 0.0
    """1-sigma error of ln(noise area) of the bench's places, and its degrees of freedom."""
    freedom: float = math.inf
    falloff: PupilFalloff | None = None
    """From flats of the setting; None: the model cos(angle off axis)."""


@dataclass(frozen=True)
class Cells:
    """Even cells of the frame, arrays of one value per cell."""

    x_px: Floats
    y_px: Floats
    pixels: float
    solid_angle_arcsec2: Floats
    """Of a pixel."""
    open: Flags
    tested: Flags
    area_px: Floats
    """Noise area of the bench's spot along the trail there."""
    share: Floats
    """SNR of the finding's round filter over that of a filter of the star's own shape."""
    noise_counts: Floats
    """(cells, 3)"""
    zero_mag: Floats | None
    """Magnitude G of a star of one green count in the exposure; None: not known."""


def cells_of(case: NightCase) -> Cells:
    """Return the cells of a frame, with the bench's spot and the night in each."""
    camera, frame = case.sight.solution.camera, case.sight.frame
    rows, columns = CELLS
    x, y = (
        v.ravel()
        for v in np.meshgrid(
            (np.arange(columns) + 0.5) / columns * frame.width_px - 0.5,
            (np.arange(rows) + 0.5) / rows * frame.height_px - 0.5,
        )
    )
    radius = np.hypot(x - camera.centre_x_px, y - camera.centre_y_px) / camera.half_diagonal_px
    area, share, tested = _areas(case, x, y, radius)
    return Cells(
        x_px=x,
        y_px=y,
        pixels=frame.width_px * frame.height_px / x.size,
        solid_angle_arcsec2=pixel_area_arcsec2(camera, x, y),
        open=in_open_sky(case.night, x, y),
        tested=tested,
        area_px=area,
        share=share,
        noise_counts=noise_at(case.sight.found.sky, x, y).astype(np.float64),
        zero_mag=_zero_mag(case, radius),
    )


def _areas(case: NightCase, x: Floats, y: Floats, radius: Floats) -> tuple[Floats, Floats, Flags]:
    """Noise area of the bench's spots along the frame's own trails, the finding's share of their
    SNR, and where the places speak."""
    zones = [_sized(z) for z in case.zones if (zone_noise_area_px(z) or 0) > 0]
    if not zones:
        return np.ones(x.size), np.ones(x.size), np.zeros(x.size, dtype=bool)
    camera, body = case.sight.solution.camera, case.bench.body
    trail = case.sight.trails(x, y)
    length = np.nan_to_num(np.hypot(trail[:, 0], trail[:, 1]))
    direction = np.degrees(np.arctan2(trail[:, 1], trail[:, 0]))
    place = np.degrees(np.arctan2(y - camera.centre_y_px, x - camera.centre_x_px))
    weights = ring_weights(zones, radius)
    logs = np.array(
        [
            math.log(zone_noise_area_px(zone) or math.nan)
            + np.log(
                trailed_area_factor(zone, length, stamp_direction(zone, body, place, direction))
            )
            for zone in zones
        ]
    )
    sigma = case.sight.found.filter_sigma_px
    shares = np.array([[filter_share(zone, sigma, case.sight)] for zone in zones])
    tested = ~np.isnan(weights[0])
    area = np.exp(np.where(tested, np.nansum(weights * logs, axis=0), 0.0))
    return area, np.where(tested, np.nansum(weights * shares, axis=0), 1.0), tested


def _sized(zone: ZoneResult) -> ZoneResult:
    """A zone at limit as a Gaussian of its measured noise area: its bound of length is no size."""
    if zone.length_px.value is not None:
        return zone
    sigma = math.sqrt((zone_noise_area_px(zone) or 1.0) / (4 * math.pi))
    axis = np.arange(-math.ceil(6 * sigma) - 2, math.ceil(6 * sigma) + 3)
    # Through the pixel: the light between its edges.
    light = np.diff(ndtr(np.append(axis - 0.5, axis[-1] + 0.5) / sigma))
    length = Combined(GAUSSIAN_LENGTH * sigma, None)
    return replace(zone, length_px=length, stamp=np.outer(light, light).astype(np.float32))


def filter_share(zone: ZoneResult, sigma_px: float, sight: Sight) -> float:
    """Return the SNR of a round Gaussian filter over that of a filter of a zone's own trailed
    spot: the overlap of the two, both scaled to a sum of squares of 1."""
    trail = sight.trails(np.array([zone.x_px]), np.array([zone.y_px]))[0]
    length = float(np.nan_to_num(np.hypot(*trail)))
    spot = trailed(spot_image(zone), length, math.degrees(math.atan2(trail[1], trail[0])))
    smooth = gaussian_filter(spot, sigma_px, truncate=5)
    # A Gaussian of sum 1 has a sum of squares of 1 / (4 pi sigma^2).
    norm = math.sqrt(float(np.sum(spot * spot))) / math.sqrt(4 * math.pi) / sigma_px
    return float(smooth.max() / norm)


def _zero_mag(case: NightCase, radius: Floats) -> Floats | None:
    night = case.night
    if night.zero_point_mag is None:
        return None
    zero = night.zero_point_mag + 2.5 * math.log10(case.sight.exposure_s)
    first, second = night.falloff_terms or (0.0, 0.0)
    return np.asarray(zero - first * radius**2 - second * radius**4)


def colour_parts(case: NightCase) -> tuple[Floats, Floats]:
    """Return the share of the samples and the light over green's, by colour."""
    pattern, stars = case.sight.frame.pattern, case.sight.found.stars
    shares = np.array([np.mean(pattern == c) for c in range(3)])
    good = (stars.snr > 40) & (stars.peak_share < 0.9) & (stars.edge == 0)
    chosen = np.flatnonzero(good)[:COLOUR_STARS]
    if chosen.size == 0:
        mix = mosaic_mix(case.bench.body.mosaic)
        parts = np.array(mix.parts) if len(mix.parts) == 3 else np.ones(3)
        return shares, parts
    return shares, np.median(colour_ratios(case.sight, stars.chosen(chosen)), axis=0)


def snr_of_one_count(cells: Cells, parts: tuple[Floats, Floats]) -> Floats:
    """Return the SNR at which the finding sees a star of one green count in each cell.

    Its filter takes all colours alike in units of their noise.
    """
    shares, light = parts
    used = shares > 0
    signal = np.sum(shares[used] * light[used] / cells.noise_counts[:, used], axis=1)
    return np.asarray(cells.share * signal / np.sqrt(cells.area_px))
