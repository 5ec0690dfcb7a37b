"""From frames on record to all that focus series say."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from nightglass.bench.combined.sightings import (
    Sighting,
    series_on_record,
    sightings_on_record,
)
from nightglass.bench.focus.drawn import SeriesImages
from nightglass.bench.focus.field import fields_of, shifts_of
from nightglass.bench.focus.place import place_series
from nightglass.bench.focus.records import (
    FieldFocus,
    FocusReport,
    PlaceSeries,
    PositionSource,
    SeriesFault,
    WavefrontFault,
    WavefrontFit,
)
from nightglass.bench.focus.series import Group, cut_spot, groups_of, left_out
from nightglass.bench.focus.wavefront import LEAST_FRAMES, fit_wavefront
from nightglass.bench.store.store import Store, open_store
from nightglass.gear.benchfile import BenchFile
from nightglass.gear.dial import exact_f_number
from nightglass.gear.lens import LensSetting, MarksToward
from nightglass.optics.arrays import Floats


def focus_on_record(bench: BenchFile) -> FocusReport:
    """Return what the focus series of a bench's own store say. Raises StoreError."""
    store = open_store(bench)
    try:
        return focus_report(store, bench)
    finally:
        store.close()


def focus_report(store: Store, bench: BenchFile) -> FocusReport:
    """Return what all focus series on record say. Raises StoreError."""
    sightings = series_on_record(store, bench)
    groups = [group for group in groups_of(sightings) if varies_focus(group)]
    used = [s for group in groups for s in group.sightings if left_out(s.spot) is None]
    images = store.stamps([s.frame.path for s in used])
    found = [(group, place_series(group, images, bench)) for group in groups]
    places = tuple(place for group, place in found if not _is_of_light(group, place))
    return FocusReport(
        places,
        fields_of(places, _half_diagonal_um(bench)),
        shifts_of(places),
        not_separated(places, sightings_on_record(store, bench)),
        {
            s.frame.path: cut_spot(images[s.frame.path], s.spot)
            for s in used
            if s.frame.path in images
        },
    )


def fields_on_record(bench: BenchFile) -> tuple[FieldFocus, ...]:
    """Return what the focus series of a bench say over the frame. Raises StoreError."""
    return focus_on_record(bench).fields


def _half_diagonal_um(bench: BenchFile) -> float:
    body = bench.body
    return math.hypot(body.width_px, body.height_px) / 2 * body.pitch_um


def wavefront_of(
    place: PlaceSeries, images: Mapping[str, Floats], bench: BenchFile
) -> WavefrontFit:
    """Return the wavefront of a place's series, or why there is none."""
    if not place.at_centre:
        return WavefrontFit(fault=WavefrontFault.OFF_CENTRE)
    best = place.best
    used = [f for f in place.frames if f.left_out is None and f.path in images]
    if best is None or len(used) < LEAST_FRAMES:
        return WavefrontFit(fault=WavefrontFault.TOO_FEW)
    given = SeriesImages(
        tuple(images[f.path] for f in used),
        tuple(f.position or 0.0 for f in used),
        exact_f_number(place.setting.f_number),
        bench.body.pitch_um,
        place.source_px or 0.0,
    )
    slopes = [side for c in best.curves for side in (c.slope_low_px, c.slope_high_px)]
    return fit_wavefront(given, best.position.value, sum(slopes) / len(slopes))


def marks_toward(
    place: PlaceSeries, bench: BenchFile, said: MarksToward | None
) -> MarksToward | None:
    """Return the end to which the positions of a series run; None where nobody said.

    said: what was asked for; it counts for frames in order too. What bench.toml says of a lens
    counts for its marks.
    """
    if said is not None or place.position_source is not PositionSource.MARKS:
        return said
    return bench.lens_of(place.setting).focus_marks_toward


def separated_on_record(store: Store, bench: BenchFile) -> frozenset[LensSetting]:
    """Return the settings of which a series through focus gives a best focus. Raises StoreError."""
    places = focus_report(store, bench).places
    return frozenset(place.setting for place in places if place.best is not None)


def varies_focus(group: Group) -> bool:
    """Return whether a series is one of focus: marks were typed, or nothing else was varied.

    Frames that were focused anew each time, or in which ISO, distance, source or roll differ, are
    a study of something else.
    """
    belongs = [sighting.belongs for sighting in group.sightings]
    if any(one.focus_mark is not None for one in belongs):
        return len({one.focus_mark for one in belongs}) > 1 or not _varies_else(group)
    return not any(one.refocused for one in belongs) and not _varies_else(group)


def _is_of_light(group: Group, place: PlaceSeries) -> bool:
    """Whether exposure was varied, and nothing says that focus was: no marks, no change of size."""
    exposures = {sighting.belongs.exposure_s for sighting in group.sightings}
    still = place.fault is SeriesFault.NO_CHANGE
    return group.source is not PositionSource.MARKS and still and len(exposures) > 1


def _varies_else(group: Group) -> bool:
    belongs = [sighting.belongs for sighting in group.sightings]
    kept: list[set[Any]] = [
        {one.iso for one in belongs},
        {one.distance_m for one in belongs},
        {one.source_diameter_mm for one in belongs},
        {one.roll_degrees for one in belongs},
    ]
    return any(len(values) > 1 for values in kept)


def not_separated(
    places: Sequence[PlaceSeries], repeats: Sequence[Sighting]
) -> tuple[LensSetting, ...]:
    """Return the settings whose blur may be focus: no series of theirs gave a best focus."""
    known = {place.setting for place in places if place.best is not None}
    return tuple(sorted({s.belongs.setting for s in repeats} - known))
