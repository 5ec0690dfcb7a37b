"""How many stars of one frame are seen: in the picture as viewed, and in the raw data.

**In the view** the eye's Gaussian, of standard deviation s and sum 1, filters the picture. A
star of F electrons then has the peak F x peak_kept / (2 pi s^2), as the eye's own peak is
1 / (2 pi s^2). White noise of variance B per area keeps B times the integral of the Gaussian's
square, B / (4 pi s^2). Divided, and no constant is left over:

    SNR = F x peak_kept / (2 pi s^2) x sqrt(4 pi s^2 / B) = F x peak_kept / sqrt(B pi s^2)

so the view is a matched filter over a noise area of pi s^2 / peak_kept^2, without the star's own
photons, which are no noise of the sky between the stars. A round Gaussian star as wide as the eye
has peak_kept 1/2, so 4 pi s^2: the noise area of the glossary, where the filter matches.

**In the raw data** the matched filter is that of light.noise, with each place's own noise area.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from nightglass.bench.records import ZoneResult
from nightglass.gear.body import Body
from nightglass.light.counts import COUNTS_END_G, stars_per_square_degree
from nightglass.light.defaults import DETECTION_SNR, V_MINUS_G
from nightglass.light.noise import background_weight, limiting_star_e, mosaic_mix
from nightglass.light.photons import SQUARE_DEGREES_PER_SR, star_magnitude
from nightglass.optics.arrays import Flags, Floats
from nightglass.verdict.blur import (
    ring_weights,
    stamp_direction,
    trailed_area_factor,
    zone_noise_area_px,
)
from nightglass.verdict.frame_light import FrameLight
from nightglass.verdict.view.cells import BARE, Cells, in_a_row, some_at_once
from nightglass.verdict.view.crowd import (
    CROWDED_SHARE,
    MATCHED_WIDENS,
    SEEN_STAR_AREAS,
    share_seen,
)
from nightglass.verdict.view.eye import Eye
from nightglass.verdict.view.kept import peak_power, zone_at_limit, zone_kept

_STEP = math.log(1.02)
"""Step in ln(noise area) from which the powers of the counts are taken."""


@dataclass(frozen=True)
class StarsSeen:
    """Stars of one frame, and how the zones' blur moves their number."""

    stars: float
    crowded_share: float
    """Share of the stars bright enough that brighter neighbours swallow."""
    powers: tuple[float, ...]
    """d ln(stars) / d ln(noise area of the untrailed spot), one per zone."""
    square_degrees: float
    """Of sky in the tested part of the frame."""
    untested_share: float
    """Share of the image that no zone speaks for: no star is counted there."""
    beyond_counts: bool
    """True if a place goes deeper than the star counts: it is counted to their end."""
    at_limit: bool
    """True if a zone counts with the upper bound of its size: there may be more stars."""

    @property
    def limited_by_crowding(self) -> bool:
        """Whether over a third of the stars bright enough are lost to brighter neighbours."""
        return self.crowded_share > CROWDED_SHARE

    @property
    def per_thousand_square_degrees(self) -> float:
        """Stars per 1,000 square degrees of the tested part of the frame."""
        return 1000 * self.stars / self.square_degrees


@dataclass(frozen=True)
class ViewedSpots:
    """The spots of a setting as an eye sees them along the trails: arrays of one value per cell.

    They hold for any light: stars are counted on them as often as the light changes.
    """

    eye: Eye
    log_peak: Floats
    """ln(peak_kept)."""
    log_area: Floats
    """ln of the viewed star's noise area [px^2]."""
    slope: Floats
    """d ln(peak_kept) / d ln(noise area of the untrailed spots)."""
    part: Floats
    """(zones, cells): each zone's part of that slope."""
    tested: Flags
    eye_area_px: float
    at_limit: bool

    @property
    def peak_kept(self) -> float:
        """Mean share of a star's peak that the view keeps over the tested frame."""
        return float(np.exp(self.log_peak[self.tested]).mean()) if self.tested.any() else 0.0


def viewed_spots(
    light: FrameLight,
    zones: Sequence[ZoneResult],
    body: Body,
    eye: Eye,
) -> ViewedSpots:
    """Return the spots of a setting as the eye sees them over the frame.

    zones: those with a length (blur.usable_zones). Between zones ln(peak_kept) is linear in field
    radius. Raises ValueError without zones.
    """
    log_peak, log_area, slopes = _zones_in_view(light, _checked(zones), body, eye)
    weights, tested = _weights(zones, light)
    slope = (weights * slopes).sum(axis=0)
    with np.errstate(divide="ignore", invalid="ignore"):
        part = np.where(slope < 0, weights * slopes / slope, 0.0)
    return ViewedSpots(
        eye=eye,
        log_peak=(weights * log_peak).sum(axis=0),
        log_area=(weights * log_area).sum(axis=0),
        slope=slope,
        part=part,
        tested=tested,
        eye_area_px=math.pi * eye.sigma_px(body) ** 2,
        at_limit=any(zone_at_limit(zone) for zone in zones),
    )


def stars_in_view(light: FrameLight, spots: ViewedSpots, body: Body) -> StarsSeen:
    """Return how many stars of one frame stand out in the picture as viewed.

    Place by place: view SNR of 5 or more, and not swallowed by a brighter neighbour.
    """
    return stars_in_views([(light, spots)], body)[0]


def stars_in_views(cases: Sequence[tuple[FrameLight, ViewedSpots]], body: Body) -> list[StarsSeen]:
    """Return stars_in_view of several frames of one body, counted together."""
    return [seen for some in some_at_once(cases) for seen in _seen_together(some, body)]


def _seen_together(cases: Sequence[tuple[FrameLight, ViewedSpots]], body: Body) -> list[StarsSeen]:
    cells, mix = in_a_row([light for light, _ in cases]), mosaic_mix(body.mosaic)
    log_peaks, log_areas, slopes = (
        np.concatenate([getattr(spots, name) for _, spots in cases])
        for name in ("log_peak", "log_area", "slope")
    )
    eye_areas = np.repeat(
        [spots.eye_area_px for _, spots in cases], [spots.slope.size for _, spots in cases]
    )
    counts = []
    # A spot that grows spreads its light: the viewed star takes more room as its peak falls.
    for grown in (0.0, _STEP):
        filter_area = eye_areas * np.exp(-2 * (log_peaks + grown * slopes))
        weight = background_weight(filter_area, cells.sky_e, cells.read_noise_e, mix)
        faintest_e = np.asarray(DETECTION_SNR.value / np.sqrt(weight))
        counts.append(_counted(cells, faintest_e, np.exp(log_areas - grown * slopes)))
    return [
        _summed(light, spots.at_limit, [c.of(its) for c in counts], spots.part, spots.tested)
        for (light, spots), its in zip(cases, cells.frames, strict=True)
    ]


def stars_recorded(light: FrameLight, zones: Sequence[ZoneResult], body: Body) -> StarsSeen:
    """Return how many stars the raw frame holds: matched filter at SNR 5 over all colours.

    zones: those with a length. The noise areas of the trailed spots decide, with the same smooth
    crowding as in the view. Raises ValueError without zones.
    """
    trail_px, direction = light.trail_px, light.trail_degrees
    place = np.degrees(np.arctan2(light.y_mm, light.x_mm))
    logs, slopes = [], []
    for zone in _checked(zones):
        area = zone_noise_area_px(zone) or math.nan
        against = stamp_direction(zone, body, place, direction)
        logs.append(math.log(area) + np.log(trailed_area_factor(zone, trail_px, against)))
        # A round Gaussian of this area: across the trail it grows in full, along it the less
        # the longer the trail.
        variance = area / (4 * math.pi)
        slopes.append(0.5 + 0.5 * variance / (variance + trail_px**2 / 12))
    weights, tested = _weights(zones, light)
    area_px = np.exp((weights * np.array(logs)).sum(axis=0))
    mean_slope = (weights * np.array(slopes)).sum(axis=0)
    part = weights * np.array(slopes) / np.where(mean_slope > 0, mean_slope, 1.0)
    mix, noise_e = mosaic_mix(body.mosaic), light.read_noise.electrons
    counts = []
    for grown in (area_px, area_px * np.exp(_STEP * mean_slope)):
        faintest_e = limiting_star_e(grown, light.sky_e, noise_e, mix)
        counts.append(_counted(in_a_row([light]), faintest_e, MATCHED_WIDENS * grown))
    at_limit = any(zone_at_limit(zone) for zone in zones)
    return _summed(light, at_limit, counts, part, tested)


def _zones_in_view(
    light: FrameLight,
    zones: Sequence[ZoneResult],
    body: Body,
    eye: Eye,
) -> tuple[Floats, Floats, Floats]:
    """Each zone's spot at each cell (zones, cells): ln(peak_kept), ln of the viewed star's noise
    area, and the power of peak_kept in the untrailed spot's."""
    sigma_px = eye.sigma_px(body)
    trail_px, direction = light.trail_px, light.trail_degrees
    place = np.degrees(np.arctan2(light.y_mm, light.x_mm))
    kept = [
        zone_kept(zone, sigma_px, trail_px, stamp_direction(zone, body, place, direction))
        for zone in zones
    ]
    slopes = [peak_power(k.log_peak, trail_px, sigma_px) for k in kept]
    return (
        np.array([k.log_peak for k in kept]),
        np.array([k.log_area for k in kept]),
        np.array(slopes),
    )


@dataclass(frozen=True)
class _Counted:
    """Stars per cell: bright enough, and seen among them."""

    there: Floats
    seen: Floats
    deep: Flags

    def of(self, frame: slice) -> _Counted:
        """Those of one frame."""
        return _Counted(self.there[frame], self.seen[frame], self.deep[frame])


def _counted(cells: Cells, faintest_e: Floats, star_area_px: Floats) -> _Counted:
    magnitude = star_magnitude(
        faintest_e / cells.exposure_s, BARE, cells.pupil_falloff, cells.extinction_mag
    )
    faintest_g = magnitude - V_MINUS_G.value
    deep = faintest_g > COUNTS_END_G
    per_degree = stars_per_square_degree(np.minimum(faintest_g, COUNTS_END_G))
    per_px = per_degree * cells.pixel_solid_angle_sr * SQUARE_DEGREES_PER_SR
    there = per_px * cells.pixels
    return _Counted(there, there * share_seen(per_px * SEEN_STAR_AREAS * star_area_px), deep)


def _summed(
    light: FrameLight,
    at_limit: bool,
    counts: Sequence[_Counted],
    part: Floats,
    tested: Flags,
) -> StarsSeen:
    """The frame's sums; counts: now, and with noise areas larger by _STEP; part: of each zone."""
    now, wider = counts
    stars, there = float(now.seen[tested].sum()), float(now.there[tested].sum())
    with np.errstate(divide="ignore", invalid="ignore"):
        power = np.where(now.seen > 0, np.log(wider.seen / now.seen) / _STEP, 0.0)
    share = np.where(tested, now.seen, 0.0) / stars if stars > 0 else np.zeros_like(now.seen)
    degrees = light.pixel_solid_angle_sr * light.pixels * SQUARE_DEGREES_PER_SR
    return StarsSeen(
        stars=stars,
        crowded_share=1 - stars / there if there > 0 else 0.0,
        powers=tuple(float(p) for p in (part * power * share).sum(axis=1)),
        square_degrees=float(degrees[tested].sum()),
        untested_share=float(1 - tested.mean()),
        beyond_counts=bool(np.any(now.deep[tested])),
        at_limit=at_limit,
    )


def _checked(zones: Sequence[ZoneResult]) -> Sequence[ZoneResult]:
    if not zones:
        raise ValueError("no zone has a length: measure at least one place of the frame")
    return zones


def _weights(zones: Sequence[ZoneResult], light: FrameLight) -> tuple[Floats, Flags]:
    """What each zone counts at each cell (0 where untested), and which cells are tested."""
    weights = ring_weights(zones, light.field_radius)
    return np.nan_to_num(weights), ~np.isnan(weights[0])
