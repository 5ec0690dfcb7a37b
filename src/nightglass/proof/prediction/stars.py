"""How many stars a frame ought to show, and how faint, by the bench's spot and the night's sky."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr, ndtri

from nightglass.light.counts import COUNTS_END_G, stars_per_square_degree
from nightglass.light.defaults import DETECTION_SNR
from nightglass.optics.arrays import Flags, Floats, Indices
from nightglass.proof.codes import PredictionReasonCode
from nightglass.proof.prediction.cells import CELLS, Cells, NightCase, snr_of_one_count
from nightglass.proof.prediction.ratio import apart, times
from nightglass.proof.reasons import PredictionReason
from nightglass.proof.records import (
    Prediction,
)
from nightglass.sky.astrometry.refine import catalogue_vectors, stars_in_frame
from nightglass.sky.photometry.codes import LimitSource
from nightglass.sky.photometry.conditions import in_open_sky
from nightglass.sky.photometry.limit import CATALOGUE_COMPLETE_G

FILTER_ERR = 0.05
"""Relative error of the SNR that the formula gives (design/proof_counts.py)."""
MERGE_AREAS = 6.0
"""Noise areas about a brighter star within which a star is not found apart: what rendered frames
of the Milky Comparison show, to a factor of 1.5 (design/proof_counts.py)."""
COUNTS_ERR = 0.15
"""Relative error of the stars beyond the catalogue, which the table of the mean sky gives."""
FIELD_G = (8.5, 9.5)
"""Magnitudes over which a field's own richness is taken from the catalogue."""
LIMIT_ERR_MAG = 0.05


def limit_and_stars(
    case: NightCase, cells: Cells, parts: tuple[Floats, Floats]
) -> tuple[Prediction, Prediction, float]:
    """Return the limit, the number of stars, and the share of it that the table of counts gives.

    parts: share of the samples and light over green's, by colour.
    """
    used = cells.open & cells.tested
    if cells.zero_mag is None:
        none = Prediction(reason=PredictionReason(PredictionReasonCode.NO_ZERO_POINT))
        return none, none, 0.0
    if not np.any(used):
        none = Prediction(reason=PredictionReason(PredictionReasonCode.NO_OPEN_SKY))
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
        return (
            limit,
            Prediction(0.0, found, reason=PredictionReason(PredictionReasonCode.NO_STAR_PREDICTED)),
            0.0,
        )
    own = 1 / count.stars + (COUNTS_ERR * count.beyond) ** 2 + (count.merged / 2) ** 2
    slope = count.slope**2
    stars = times(
        count.stars, found, [(slope * area, case.freedom), (slope * light + own, math.inf)]
    )
    return limit, stars, count.beyond


def _half_found(
    case: NightCase, cells: Cells, used: Flags, deepest: Floats, count: _Count
) -> float:
    """Magnitude that `limiting_mag` should have: where half of the stars are found, which comes
    earlier among many neighbours, or where the SNR is 5."""
    limit = float(np.mean(deepest[used]))
    if case.night.limiting_from is not LimitSource.HALF_FOUND:
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


def _counted(case: NightCase, cells: Cells, used: Flags, deepest: Floats) -> _Count:
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


def _seen(magnitude: Floats, deepest: Floats) -> Floats:
    """Chance that a star is found: noise lifts some over the limit and drops others, and the
    highest of several neighbouring places is taken."""
    snr = DETECTION_SNR.value * 10 ** (-0.4 * (magnitude - deepest))
    return np.asarray(ndtr(snr + 1 / np.maximum(snr, 1.0) - DETECTION_SNR.value))


def _richness(magnitude: Floats, square_degrees: float) -> float:
    """How many times the mean sky's stars this field holds, by its catalogue stars."""
    bright, faint = FIELD_G
    there = np.count_nonzero((magnitude > bright) & (magnitude <= faint))
    usual = float(np.diff(stars_per_square_degree(np.array(FIELD_G)))[0]) * square_degrees
    return (there + 1.0) / (usual + 1.0)


def _found_stars(case: NightCase, cells: Cells, used: Flags) -> float:
    stars = case.sight.found.stars
    here = used[_cell_of(case, stars.x_px, stars.y_px)] & (stars.snr >= DETECTION_SNR.value)
    return float(np.count_nonzero(here & in_open_sky(case.night, stars.x_px, stars.y_px)))


def _cell_of(case: NightCase, x: Floats, y: Floats) -> Indices:
    rows, columns = CELLS
    frame = case.sight.frame
    row = np.clip(((y + 0.5) / frame.height_px * rows).astype(np.intp), 0, rows - 1)
    column = np.clip(((x + 0.5) / frame.width_px * columns).astype(np.intp), 0, columns - 1)
    return np.asarray(row * columns + column, dtype=np.intp)


def _limit(case: NightCase, predicted: float, area: float, light: float) -> Prediction:
    found = case.night.limiting_mag
    if found is None:
        reason = PredictionReason(PredictionReasonCode.NO_LIMIT, case.night.limiting_from)
        return Prediction(predicted, reason=reason)
    own = (case.night.limiting_err or 0.0) ** 2 + LIMIT_ERR_MAG**2
    parts = [(area / 0.921**2, case.freedom), (light / 0.921**2 + own, math.inf)]
    return apart(predicted, found, parts)
