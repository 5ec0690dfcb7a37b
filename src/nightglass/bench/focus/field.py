"""Places and f-numbers held against each other: common focus, curvature of field, focus shift."""

from __future__ import annotations

import itertools
import math
from collections import defaultdict
from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from nightglass.bench.focus.best import DRAWS, draws_of, length_at, log_length
from nightglass.bench.focus.curve import numbers_of
from nightglass.bench.focus.records import (
    BestFocus,
    FieldFault,
    FieldFocus,
    FocusShift,
    PlaceAt,
    PlaceSeries,
    PositionSource,
    Value,
)
from nightglass.bench.focus.tilt import tilt_of
from nightglass.gear.lens import LensSetting
from nightglass.optics.arrays import Floats

STEPS = 401
LEAST_RADII_APART = 0.1
"""Difference in field radius squared from which curvature can be told."""


def fields_of(
    places: Sequence[PlaceSeries], half_diagonal_um: float | None = None
) -> tuple[FieldFocus, ...]:
    """Return what all places of each series and setting say together.

    half_diagonal_um: of the frame; without it a tilt has no angle.
    """
    by_key: dict[tuple[str, LensSetting], list[PlaceSeries]] = defaultdict(list)
    for place in places:
        by_key[place.series, place.setting].append(place)
    return tuple(_field(several, half_diagonal_um) for several in by_key.values())


def _field(several: Sequence[PlaceSeries], half_diagonal_um: float | None) -> FieldFocus:
    known = [place for place in several if place.best is not None]
    first = several[0]
    fault = _not_comparable(known)
    if fault is not None:
        return FieldFocus(first.series, first.setting, None, fault=fault, curvature_fault=fault)
    common = _common_focus(known)
    curvature, misfit, curvature_fault = _curvature(known)
    return FieldFocus(
        first.series,
        first.setting,
        common,
        tuple(_place_at(place, common.value) for place in known),
        curvature,
        misfit,
        curvature_fault=curvature_fault,
        tilt=tilt_of(known, 0.0 if curvature is None else curvature.value, half_diagonal_um),
    )


def _not_comparable(known: Sequence[PlaceSeries]) -> FieldFault | None:
    if len(known) < 2:
        return FieldFault.ONE_PLACE
    by_marks = all(place.position_source is PositionSource.MARKS for place in known)
    # Numbers in an order mean the same focus only if each place went through the same steps.
    if not by_marks and len({len(place.frames) for place in known}) > 1:
        return FieldFault.ORDER_DIFFERS
    return None


def _place_at(place: PlaceSeries, position: float) -> PlaceAt:
    best = _known(place.best)
    length = float(length_at(best, position))
    return PlaceAt(place.place, length, length / best.size_px.value, best.position)


def _known(best: BestFocus | None) -> BestFocus:
    if best is None:
        raise ValueError("a place without a best focus has no part in the common one")
    return best


def _common_focus(known: Sequence[PlaceSeries]) -> Value:
    """The focus at which the worst place is least blurred, with its error from the curves'."""
    bests = [_known(place.best) for place in known]
    positions = [one.position.value for one in bests]
    curves = [curve for one in bests for curve in one.curves]
    reach = max(c.size_px.value / min(c.slope_low_px, c.slope_high_px) for c in curves)
    grid = np.linspace(min(positions) - reach, max(positions) + reach, STEPS)
    value = _least_worst([[numbers_of(c) for c in one.curves] for one in bests], grid)
    drawn = [draws_of(one.curves) for one in bests]
    draws = [_least_worst([one[k] for one in drawn], grid) for k in range(DRAWS)]
    return Value(value, float(np.std(draws)))


def _least_worst(numbers: Sequence[Sequence[ArrayLike]], grid: Floats) -> float:
    worst = np.max([log_length(one, grid) for one in numbers], axis=0)
    return float(grid[int(np.argmin(worst))])


def _curvature(
    known: Sequence[PlaceSeries],
) -> tuple[Value | None, float | None, FieldFault | None]:
    """Best focus against the square of the field radius: a straight line, errors as weights."""
    squares = np.array([place.field_radius**2 for place in known])
    if float(np.ptp(squares)) < LEAST_RADII_APART:
        return None, None, FieldFault.ONE_RADIUS
    best = [_known(place.best).position for place in known]
    positions = np.array([one.value for one in best])
    weights = 1 / np.array([one.err for one in best])
    design = np.stack([np.ones_like(squares), squares], axis=1) * weights[:, None]
    found, _, _, _ = np.linalg.lstsq(design, positions * weights, rcond=None)
    covariance = np.linalg.inv(design.T @ design)
    free = len(known) - 2
    misfit = None
    scale = 1.0
    if free > 0:
        rest = positions * weights - design @ found
        misfit = math.sqrt(float(rest @ rest) / free)
        # Places that fit worse than their errors say the field is no plain bowl: tilt, waves.
        scale = max(1.0, misfit)
    return Value(float(found[1]), scale * math.sqrt(float(covariance[1, 1]))), misfit, None


def shifts_of(places: Sequence[PlaceSeries]) -> tuple[FocusShift, ...]:
    """Return how best focus moves between neighbouring f-numbers, where marks were typed.

    Without marks nothing ties the focus of one f-number to that of another.
    """
    by_key: dict[tuple[str, str, float, str], list[PlaceSeries]] = defaultdict(list)
    for place in places:
        if place.best is not None and place.position_source is PositionSource.MARKS:
            key = place.series, place.setting.lens, place.setting.focal_mm, place.place
            by_key[key].append(place)
    found = []
    for (series, lens, focal_mm, name), several in by_key.items():
        ordered = sorted(several, key=lambda one: one.setting.f_number)
        for a, b in itertools.pairwise(ordered):
            za, zb = _known(a.best).position, _known(b.best).position
            shift = Value(zb.value - za.value, math.hypot(za.err, zb.err))
            numbers = a.setting.f_number, b.setting.f_number
            found.append(FocusShift(series, lens, focal_mm, name, *numbers, shift))
    return tuple(found)
