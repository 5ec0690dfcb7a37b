"""Light, limit, stars and glow of a frame: predicted from bench and night, and found.

The stars' prediction takes the night as it was (zero point, falloff, noise of the samples) and
the spot from the bench, drawn along the frame's own trails; the light's and the glow's take lens
and body as bench.toml describes them. So each tells of one thing: the blur, or the light.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri

from nightglass.light.aperture import cosine_falloff, lens_transmission, pupil_area_mm2
from nightglass.light.atmosphere import airmass_kasten_young1989, extinction_mag
from nightglass.light.counts import COUNTS_END_G, stars_per_square_degree
from nightglass.light.defaults import (
    AIRMASS,
    DETECTION_SNR,
    EXTINCTION,
    MILKY_WAY_BRIGHTNESS,
    V_MINUS_G,
)
from nightglass.light.iso import read_noise_at
from nightglass.light.noise import glow_snr, mosaic_mix, pixels_per_square_degree
from nightglass.light.photons import SQUARE_ARCSEC_PER_SR, LightPath, surface_e_per_s_px
from nightglass.optics.projection import off_axis_degrees
from nightglass.sky.photometry import CATALOGUE_COMPLETE_G, in_open_sky
from nightglass.sky.refine import catalogue_vectors, stars_in_frame
from nightglass.verdict.proof_cells import (
    CELLS,
    Cells,
    NightCase,
    cells_of,
    colour_parts,
    snr_of_one_count,
)
from nightglass.verdict.proof_records import Against, FrameNight
from nightglass.verdict.records import Interval
from nightglass.verdict.spread import satterthwaite, t_quantile

Array = NDArray[np.float64]

FILTER_ERR = 0.05
"""Relative error of the SNR that the formula gives (design/proof_counts.py)."""
MERGE_AREAS = 6.0
"""Noise areas about a brighter star within which a star is not found apart: what rendered frames
of the Milky Way show, to a factor of 1.5 (design/proof_counts.py)."""
EXTINCTION_ERR = 0.08
"""Magnitudes per airmass by which clear nights differ: 0.12 on mountains, 0.28 in haze."""
COUNTS_ERR = 0.15
"""Relative error of the stars beyond the catalogue, which the table of the mean sky gives."""
FIELD_G = (8.5, 9.5)
"""Magnitudes over which a field's own richness is taken from the catalogue."""
LIMIT_ERR_MAG = 0.05
FAINTER = 2.0
"""Magnitudes beyond the limit at which no star is recorded any more."""


def frame_night(case: NightCase) -> FrameNight:
    """Return light, limit, stars and glow of a frame; what can't be told has its reason."""
    cells = cells_of(case)
    parts = colour_parts(case)
    limit, stars, beyond = _stars(case, cells, parts)
    return FrameNight(
        light=_light(case),
        limit=limit,
        stars=stars,
        glow=_glow(case, cells, parts),
        tested_share=float(np.mean(cells.open & cells.tested)),
        beyond_share=beyond,
    )


def _stars(
    case: NightCase, cells: Cells, parts: tuple[Array, Array]
) -> tuple[Against, Against, float]:
    """Limit and number of stars, and the share of the number that the table gives."""
    used = cells.open & cells.tested
    if cells.zero_mag is None:
        none = Against(reason="no zero point: too few unclipped catalogue stars, or no exposure")
        return none, none, 0.0
    if not np.any(used):
        none = Against(reason="no open sky lies near a place that the bench has measured")
        return none, none, 0.0
    snr_one = snr_of_one_count(cells, parts)
    deepest = cells.zero_mag - 2.5 * np.log10(DETECTION_SNR.value / snr_one)
    count = _counted(case, cells, used, deepest)
    found = _found_stars(case, cells, used)
    # All of them move the depth: d ln(SNR) is half of d ln(area), 0.4 ln 10 of d(magnitude).
    zero_err = 0.921 * (case.night.zero_point_err or 0.0)
    area = (case.log_area_err / 2) ** 2
    light = zero_err**2 + FILTER_ERR**2
    limit = _limit(case, _half_found(case, cells, used, deepest, count), area, light)
    if count.stars <= 0:
        return limit, Against(0.0, found, reason="no star is predicted"), 0.0
    own = 1 / count.stars + (COUNTS_ERR * count.beyond) ** 2 + (count.merged / 2) ** 2
    slope = count.slope**2
    stars = _ratio(
        count.stars, found, [(slope * area, case.freedom), (slope * light + own, math.inf)]
    )
    return limit, stars, count.beyond


def _half_found(
    case: NightCase, cells: Cells, used: NDArray[np.bool_], deepest: Array, count: _Count
) -> float:
    """Magnitude that `limiting_mag` should have: where half of the stars are found, which comes
    earlier among many neighbours, or where the SNR is 5."""
    limit = float(np.mean(deepest[used]))
    if not case.night.limiting_from.startswith("half"):
        return limit
    # Of the stars at the limit, which have all others as brighter neighbours.
    crowd = count.stars / max(1 - count.merged, 0.1) / (cells.pixels * np.count_nonzero(used))
    apart = float(np.exp(-crowd * MERGE_AREAS * np.mean(cells.area_px[used])))
    if apart <= 0.55:
        return limit
    snr = DETECTION_SNR.value + float(ndtri(0.5 / apart)) - 1 / DETECTION_SNR.value
    return limit - 2.5 * math.log10(snr / DETECTION_SNR.value)


@dataclass(frozen=True)
class _Count:
    """Stars predicted; shares beyond the catalogue and lost to merging; d ln(stars)/d ln(SNR)."""

    stars: float
    beyond: float
    merged: float
    slope: float


def _counted(case: NightCase, cells: Cells, used: NDArray[np.bool_], deepest: Array) -> _Count:
    """The catalogue's stars of this field to G 9.5, fainter ones by the table."""
    solution = case.sight.solution
    index, x, y = stars_in_frame(solution.camera, solution.rotation, CATALOGUE_COMPLETE_G)
    magnitude = catalogue_vectors()[1][index]
    cell = _cell_of(case, x, y)
    inside = used[cell]
    cell, magnitude = cell[inside], magnitude[inside]
    degrees = cells.solid_angle_arcsec2 * cells.pixels / 3600**2
    richness = _richness(magnitude, float(degrees[used].sum()))
    edges = np.arange(CATALOGUE_COMPLETE_G, COUNTS_END_G + 1e-9, 0.1)
    per_step = np.diff(stars_per_square_degree(edges)) * richness
    share_of_cell = MERGE_AREAS * cells.area_px / cells.pixels

    def total(deeper: float) -> tuple[float, float, float]:
        seen = np.bincount(cell, _seen(magnitude, deepest[cell] + deeper), used.size)
        faint = _seen(edges[None, :-1] + 0.05, deepest[:, None] + deeper) @ per_step * degrees
        both = seen + faint
        # Stars at random places: each is found unless a brighter one stands within reach.
        crowd = np.maximum(both * share_of_cell, 1e-9)
        apart = both * -np.expm1(-crowd) / crowd
        return float(apart[used].sum()), float(faint[used].sum()), float(both[used].sum())

    stars, faint, both = total(0.0)
    if stars <= 0:
        return _Count(0.0, 0.0, 0.0, 0.0)
    slope = math.log(total(0.1)[0] / stars) / (0.1 * 0.921)
    return _Count(stars, faint / both, 1 - stars / both, slope)


def _seen(magnitude: Array, deepest: Array) -> Array:
    """Chance that a star is found: noise lifts some over the limit and drops others, and the
    highest of several neighbouring places is taken."""
    snr = DETECTION_SNR.value * 10 ** (-0.4 * (magnitude - deepest))
    return np.asarray(ndtr(snr + 1 / np.maximum(snr, 1.0) - DETECTION_SNR.value))


def _richness(magnitude: Array, square_degrees: float) -> float:
    """How many times the mean sky's stars this field holds, by its catalogue stars."""
    bright, faint = FIELD_G
    there = np.count_nonzero((magnitude > bright) & (magnitude <= faint))
    usual = float(np.diff(stars_per_square_degree(np.array(FIELD_G)))[0]) * square_degrees
    return (there + 1.0) / (usual + 1.0)


def _found_stars(case: NightCase, cells: Cells, used: NDArray[np.bool_]) -> float:
    stars = case.sight.found.stars
    here = used[_cell_of(case, stars.x_px, stars.y_px)] & (stars.snr >= DETECTION_SNR.value)
    return float(np.count_nonzero(here & in_open_sky(case.night, stars.x_px, stars.y_px)))


def _cell_of(case: NightCase, x: Array, y: Array) -> NDArray[np.intp]:
    rows, columns = CELLS
    frame = case.sight.frame
    row = np.clip(((y + 0.5) / frame.height_px * rows).astype(np.intp), 0, rows - 1)
    column = np.clip(((x + 0.5) / frame.width_px * columns).astype(np.intp), 0, columns - 1)
    return np.asarray(row * columns + column, dtype=np.intp)


def _limit(case: NightCase, predicted: float, area: float, light: float) -> Against:
    found = case.night.limiting_mag
    if found is None:
        return Against(predicted, reason=case.night.limiting_from)
    own = (case.night.limiting_err or 0.0) ** 2 + LIMIT_ERR_MAG**2
    parts = [(area / 0.921**2, case.freedom), (light / 0.921**2 + own, math.inf)]
    total, freedom = satterthwaite(parts)
    half = t_quantile(freedom) * math.sqrt(total)
    away = found - predicted
    return Against(
        predicted,
        found,
        log_err=math.sqrt(total),
        freedom=freedom,
        ratio=Interval(away, away - half, away + half),
        even=0.0,
    )


def _air_mag(case: NightCase) -> tuple[float, float]:
    """Extinction toward the aim and its error [mag]."""
    sky = case.bench.sky
    altitude = case.aim_altitude_degrees
    airmass = AIRMASS.value if sky.airmass is None else sky.airmass
    if altitude is not None and altitude > 5:
        airmass = float(airmass_kasten_young1989(altitude))
    per_airmass = EXTINCTION.value if sky.extinction_mag is None else sky.extinction_mag
    return float(extinction_mag(airmass, per_airmass)), EXTINCTION_ERR * airmass


def _gain(case: NightCase) -> float | None:
    given = case.bench.body.gain_e_per_count.get(case.iso) if case.iso is not None else None
    return given or case.night.gain_e_per_count


def _path(case: NightCase) -> LightPath | None:
    lens, body = case.bench.lens(case.setting.lens), case.bench.body
    if lens is None or body.efficiency is None:
        return None
    area = pupil_area_mm2(case.setting.focal_mm, case.setting.f_number)
    return LightPath(area, lens_transmission(lens).share, body.efficiency)


NO_GEAR = "bench.toml does not give the body's efficiency; a default says nothing of this body"
NO_GAIN = "electrons per count at this ISO are not known: gain_e_per_count in bench.toml"


def _light(case: NightCase) -> Against:
    path, gain, found = _path(case), _gain(case), case.night.zero_point_mag
    if found is None:
        return Against(reason="no zero point: too few unclipped catalogue stars, or no exposure")
    if path is None:
        return Against(found=found, reason=NO_GEAR)
    if gain is None:
        return Against(found=found, reason=NO_GAIN)
    air, air_err = _air_mag(case)
    predicted = 2.5 * math.log10(path.zero_magnitude_e_per_s / gain) - V_MINUS_G.value - air
    err = 0.921 * math.hypot(case.night.zero_point_err or 0.0, air_err)
    answer = _ratio(1.0, 10 ** (0.4 * (found - predicted)), [(err**2, math.inf)])
    return replace(answer, predicted=predicted, found=found)


def _glow(case: NightCase, cells: Cells, parts: tuple[Array, Array]) -> Against:
    """Both with the sky as bright as it was found to be."""
    path, gain, sky_mag = _path(case), _gain(case), case.night.sky_mag_arcsec2
    lens = case.bench.lens(case.setting.lens)
    if cells.zero_mag is None or sky_mag is None or not np.any(cells.open):
        return Against(reason="the sky's brightness is not known")
    if path is None or lens is None:
        return Against(reason=NO_GEAR)
    if gain is None:
        return Against(reason=NO_GAIN)
    camera, body, seconds = case.sight.solution.camera, case.bench.body, case.sight.exposure_s
    air, air_err = _air_mag(case)
    radius_mm = np.hypot(cells.x_px - camera.centre_x_px, cells.y_px - camera.centre_y_px)
    radius_mm = radius_mm * body.pitch_um / 1000
    theta = off_axis_degrees(radius_mm, case.setting.focal_mm, lens.projection)
    solid = cells.solid_angle_arcsec2 / SQUARE_ARCSEC_PER_SR
    pupil = cosine_falloff(theta)
    # The sky's magnitude is that of stars above the air; the formula takes it from the ground.
    sky_e = seconds * surface_e_per_s_px(sky_mag + V_MINUS_G.value + air, path, solid, pupil)
    glow_e = seconds * surface_e_per_s_px(MILKY_WAY_BRIGHTNESS.value, path, solid, pupil)
    count = pixels_per_square_degree(solid)
    read = read_noise_at(body, case.iso).electrons
    ours = glow_snr(glow_e, sky_e, read, count, mosaic_mix(body.mosaic))
    above_air = MILKY_WAY_BRIGHTNESS.value - V_MINUS_G.value - air
    counts = 10 ** (-0.4 * (above_air - cells.zero_mag)) * cells.solid_angle_arcsec2
    shares, light = parts
    known = shares > 0
    signal = counts[:, None] * light[known]
    noise = cells.noise_counts[:, known] ** 2 + signal / gain
    seen = np.sqrt(count * np.sum(shares[known] * signal**2 / noise, axis=1))
    predicted, found = (
        float(np.average(v[cells.open], weights=solid[cells.open])) for v in (ours, seen)
    )
    err = 0.921 * math.hypot(case.night.zero_point_err or 0.0, air_err)
    return _ratio(predicted, found, [(err**2, math.inf)])


def _ratio(predicted: float, found: float, parts: Sequence[tuple[float, float]]) -> Against:
    total, freedom = satterthwaite(parts)
    if not found > 0:
        return Against(predicted, found, reason="none was found")
    log, half = math.log(found / predicted), t_quantile(freedom) * math.sqrt(total)
    low, high = math.exp(log - half), math.exp(log + half)
    return Against(
        predicted,
        found,
        log_err=math.sqrt(total),
        freedom=freedom,
        ratio=Interval(math.exp(log), low, high),
    )
