"""The star of each frame on record: what it belongs to, and where it stood."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from nightglass.bench.assign import (
    Belongs,
    NotUsed,
    belongs_to,
    nearest_place,
    of_its_body,
    place_from_position,
)
from nightglass.bench.combined.clipping import with_pooled_clipping
from nightglass.bench.combined.session_names import session_names
from nightglass.bench.store.rows import FrameOnRecord
from nightglass.bench.store.store import Store
from nightglass.gear.benchfile import BenchFile
from nightglass.optics.defocus import source_image_um
from nightglass.spot.record import Spot

NOT_MEASURED = frozenset({"clipped", "lost", "not a star"})
"""Flags whose sizes are not used."""
SAME_PLACE_PERCENT = 10.0
"""Stars at no named place within this share of picture height of each other share a place."""


@dataclass(frozen=True)
class Sighting:
    """One frame with its green spot and what it belongs to."""

    frame: FrameOnRecord
    spot: Spot
    belongs: Belongs
    place: str = ""
    magnified: float = 1.0
    """By which sizes were scaled to take out what drifted or differed between sessions."""

    @cached_property
    def usable(self) -> bool:
        """Whether the spot gives a size or an upper bound."""
        if not NOT_MEASURED.isdisjoint(self.spot.flags):
            return False
        return self.spot.length_px is not None or self.spot.length_at_most_px is not None


def sightings_on_record(store: Store, bench: BenchFile) -> tuple[Sighting, ...]:
    """Return every measured frame that repeats a setting, with its place in words.

    Frames of a series are left out: what was varied in them on purpose is no repeat.
    """
    return _placed([s for s in _on_record(store, bench) if s.belongs.series is None], bench)


def series_on_record(store: Store, bench: BenchFile) -> tuple[Sighting, ...]:
    """Return every measured frame that belongs to a series, with its place in words."""
    return _placed([s for s in _on_record(store, bench) if s.belongs.series is not None], bench)


def _on_record(store: Store, bench: BenchFile) -> list[Sighting]:
    spots = store.spots(("green", "grey"))
    frames = [f for f in store.frames() if f.state == "measured" and not f.missing]
    greens = with_pooled_clipping(frames, {path: several[0] for path, several in spots.items()})
    found = []
    for frame in frames:
        belongs = of_its_body(belongs_to(frame, bench), bench)
        spot = greens.get(frame.path)
        if isinstance(belongs, NotUsed) or spot is None or spot.x_px is None or spot.y_px is None:
            continue
        found.append(Sighting(frame, spot, belongs))
    return _in_sessions(found)


def _in_sessions(sightings: Sequence[Sighting]) -> list[Sighting]:
    typed = [s.belongs.session for s in sightings]
    names = session_names(typed, [s.frame.metadata.taken_at for s in sightings])
    return [
        s if s.belongs.session == name else replace(s, belongs=replace(s.belongs, session=name))
        for s, name in zip(sightings, names, strict=True)
    ]


def _placed(sightings: Sequence[Sighting], bench: BenchFile) -> tuple[Sighting, ...]:
    placed, elsewhere = [], _Elsewhere()
    for sighting in sightings:
        where = xy(sighting.spot)
        place = sighting.belongs.place or nearest_place(
            *where, frame_size_px(sighting), bench.places
        )
        if place is None:
            elsewhere.add(sighting)
        else:
            placed.append(replace(sighting, place=place))
    return tuple(sorted([*placed, *elsewhere.placed()], key=lambda s: s.frame.path))


class _Elsewhere:
    """Stars at no named place, gathered into places named by their mean position."""

    def __init__(self) -> None:
        self._groups: list[list[Sighting]] = []

    def add(self, sighting: Sighting) -> None:
        size = frame_size_px(sighting)
        x, y = xy(sighting.spot)
        for group in self._groups:
            mean_x, mean_y = mean_xy(group)
            away = 100 * math.hypot(x - mean_x, y - mean_y) / min(size)
            if away <= SAME_PLACE_PERCENT and frame_size_px(group[0]) == size:
                group.append(sighting)
                return
        self._groups.append([sighting])

    def placed(self) -> list[Sighting]:
        return [
            replace(sighting, place=place_from_position(*mean_xy(group), frame_size_px(group[0])))
            for group in self._groups
            for sighting in group
        ]


def xy(spot: Spot) -> tuple[float, float]:
    """Return a spot's centre of light (x, y) [px]. Raises ValueError for a spot without one."""
    if spot.x_px is None or spot.y_px is None:
        raise ValueError(f"{spot.file}: a spot without a place can't be put into a zone")
    return spot.x_px, spot.y_px


def mean_xy(several: Sequence[Sighting]) -> tuple[float, float]:
    """Return the mean centre of light (x, y) [px]."""
    xs, ys = zip(*(xy(s.spot) for s in several), strict=True)
    return sum(xs) / len(xs), sum(ys) / len(ys)


def source_px(belongs: Belongs, bench: BenchFile) -> float | None:
    """Return the width of the source's own image [px]; None where nothing is said of it."""
    source, distance = belongs.source_diameter_mm, belongs.distance_m
    if source is None or distance is None:
        return None
    return source_image_um(source, belongs.setting.focal_mm, distance) / bench.body.pitch_um


def frame_size_px(sighting: Sighting) -> tuple[int, int]:
    """Return width and height of a frame [px]."""
    return sighting.frame.width_px or 1, sighting.frame.height_px or 1


def field_radius(several: Sequence[Sighting]) -> float:
    """Return the field radius of the mean place: 0 centre, 1 corner."""
    x, y = mean_xy(several)
    width, height = frame_size_px(several[0])
    return math.hypot(x - (width - 1) / 2, y - (height - 1) / 2) / (math.hypot(width, height) / 2)
