"""From frames on record to all that focus series say."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from nightglass.bench.combined.sightings import (
    Sighting,
    series_on_record,
    sightings_on_record,
)
from nightglass.bench.focus.field import fields_of, shifts_of
from nightglass.bench.focus.place import place_series
from nightglass.bench.focus.records import (
    FocusReport,
    PlaceSeries,
    PositionSource,
    SeriesFault,
)
from nightglass.bench.focus.series import Group, cut_spot, groups_of, left_out
from nightglass.bench.store.store import Store, open_store
from nightglass.gear.benchfile import BenchFile
from nightglass.gear.lens import LensSetting


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
        fields_of(places),
        shifts_of(places),
        not_separated(places, sightings_on_record(store, bench)),
        {
            s.frame.path: cut_spot(images[s.frame.path], s.spot)
            for s in used
            if s.frame.path in images
        },
    )


def separated_on_record(store: Store, bench: BenchFile) -> frozenset[LensSetting]:
    """Return the settings of which a series through focus gives a best focus. Raises StoreError."""
    if not any(rule.series for rule in bench.frames):
        return frozenset()
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
