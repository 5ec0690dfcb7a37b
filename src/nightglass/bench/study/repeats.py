"""From frames on record to results per setting: what the verdict reads."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from nightglass.bench.assign import (
    Belongs,
    NotUsed,
    belongs_to,
    nearest_place,
    place_from_position,
)
from nightglass.bench.codes import BenchNote, BenchNoteCode
from nightglass.bench.records import Combined, SettingResult, ZoneResult
from nightglass.bench.store.rows import FrameOnRecord
from nightglass.bench.store.store import Store, open_store
from nightglass.bench.study.clipping import with_pooled_clipping
from nightglass.bench.study.combine import (
    POOL_LEAST_DOF,
    Repeats,
    Scatter,
    circular_mean,
    combine,
    pooled_scatter,
)
from nightglass.bench.study.stamp import mean_stamp
from nightglass.gear.benchfile import BenchFile
from nightglass.gear.lens import LensSetting
from nightglass.optics.arrays import Floats32
from nightglass.spot.record import Spot, SpotImage

SIZES = (
    "length_px",
    "width_px",
    "ee50_px",
    "ee80_px",
    "skirt_length_px",
    "noise_area_px",
)
SHIFTS = ("lean", "colour_offset_red_px", "colour_offset_blue_px", "radial_angle_degrees")
NOT_MEASURED = frozenset({"clipped", "lost", "not a star"})
"""Flags whose sizes are not used."""
MOST_SOURCE_PX = 0.5
"""Width of the light source's own image that leaves sizes as they are."""
SAME_PLACE_PERCENT = 10.0
"""Stars at no named place within this share of picture height of each other share a place."""


@dataclass(frozen=True)
class Sighting:
    """One frame with its green spot and what it belongs to."""

    frame: FrameOnRecord
    spot: Spot
    belongs: Belongs
    place: str = ""

    @cached_property
    def usable(self) -> bool:
        """Whether the spot gives a size or an upper bound."""
        if not NOT_MEASURED.isdisjoint(self.spot.flags):
            return False
        return self.spot.length_px is not None or self.spot.length_at_most_px is not None


def results_on_record(bench: BenchFile) -> tuple[SettingResult, ...]:
    """Return setting_results of the bench's own store. Raises StoreError."""
    store = open_store(bench)
    try:
        return setting_results(store, bench)
    finally:
        store.close()


def setting_results(store: Store, bench: BenchFile) -> tuple[SettingResult, ...]:
    """Return every setting of bench.toml that has frames on record, repeats combined.

    Frames that bench.toml can't place, or whose files are gone, are left out (`measure` names
    them). Zones stand in the order of bench.toml's places. Raises StoreError.
    """
    sightings = sightings_on_record(store, bench)
    images = store.stamps([s.frame.path for s in sightings if s.usable])
    by_setting: dict[LensSetting, list[Sighting]] = defaultdict(list)
    for sighting in sightings:
        by_setting[sighting.belongs.setting].append(sighting)
    zones = {setting: _by_place(several, bench) for setting, several in sorted(by_setting.items())}
    pools = _pools(zones)
    return tuple(
        SettingResult(
            setting,
            tuple(
                _zone(place, several, pools[setting.lens], images)
                for place, several in places.items()
            ),
            sessions=max(1, len({s.belongs.session for s in by_setting[setting]} - {""})),
            notes=_notes(setting, by_setting[setting], bench),
        )
        for setting, places in zones.items()
    )


def sightings_on_record(store: Store, bench: BenchFile) -> tuple[Sighting, ...]:
    """Return every measured frame that belongs to a setting, with its place in words."""
    spots = store.spots(("green", "grey"))
    frames = [f for f in store.frames() if f.state == "measured" and not f.missing]
    greens = with_pooled_clipping(frames, {path: several[0] for path, several in spots.items()})
    found = []
    for frame in frames:
        belongs = belongs_to(frame, bench)
        spot = greens.get(frame.path)
        if isinstance(belongs, NotUsed) or spot is None or spot.x_px is None or spot.y_px is None:
            continue
        found.append(Sighting(frame, spot, belongs))
    return _placed(found, bench)


def _placed(sightings: Sequence[Sighting], bench: BenchFile) -> tuple[Sighting, ...]:
    placed, elsewhere = [], _Elsewhere()
    for sighting in sightings:
        where = _xy(sighting.spot)
        place = sighting.belongs.place or nearest_place(*where, _size(sighting), bench.places)
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
        size = _size(sighting)
        x, y = _xy(sighting.spot)
        for group in self._groups:
            mean_x, mean_y = _mean_xy(group)
            away = 100 * math.hypot(x - mean_x, y - mean_y) / min(size)
            if away <= SAME_PLACE_PERCENT and _size(group[0]) == size:
                group.append(sighting)
                return
        self._groups.append([sighting])

    def placed(self) -> list[Sighting]:
        return [
            replace(sighting, place=place_from_position(*_mean_xy(group), _size(group[0])))
            for group in self._groups
            for sighting in group
        ]


def _by_place(several: Iterable[Sighting], bench: BenchFile) -> dict[str, list[Sighting]]:
    places: dict[str, list[Sighting]] = defaultdict(list)
    for sighting in several:
        places[sighting.place].append(sighting)
    order = {place.name: k for k, place in enumerate(bench.places)}

    def rank(place: str) -> tuple[int, float, str]:
        return order.get(place, len(order)), _field_radius(places[place]), place

    return {place: places[place] for place in sorted(places, key=rank)}


def _pools(
    zones: Mapping[LensSetting, Mapping[str, Sequence[Sighting]]],
) -> dict[str, dict[str, Scatter | None]]:
    """Scatter of repeats per lens and quantity, over all its settings and places.

    A lens with too few repeats in all borrows the scatter of the whole bench: same body, same
    hands, same focusing.
    """
    by_lens: dict[str, list[Sequence[Sighting]]] = defaultdict(list)
    for setting, places in zones.items():
        # A place with one frame says nothing of scatter.
        by_lens[setting.lens] += [several for several in places.values() if len(several) > 1]
    everything = [several for groups in by_lens.values() for several in groups]
    names = (*SIZES, *SHIFTS)
    bench = {name: pooled_scatter(_repeats(name, g) for g in everything) for name in names}
    return {
        lens: {
            name: pooled_scatter((_repeats(name, g) for g in groups), POOL_LEAST_DOF) or bench[name]
            for name in names
        }
        for lens, groups in by_lens.items()
    }


def _repeats(name: str, several: Sequence[Sighting]) -> Repeats:
    usable = [s.spot for s in several if s.usable]
    spots = [spot for spot in usable if getattr(spot, name) is not None]
    bound = f"{name.removesuffix('_px')}_at_most_px"
    bounds = [getattr(s, bound, None) for s in usable if getattr(s, name) is None]
    return Repeats(
        tuple(getattr(spot, name) for spot in spots),
        tuple(getattr(spot, f"{name}_err", None) or 0.0 for spot in spots),
        tuple(getattr(spot, f"{name}_err_noise", None) or 0.0 for spot in spots),
        tuple(b for b in bounds if b is not None),
        relative=name in SIZES,
    )


def _zone(
    place: str,
    several: Sequence[Sighting],
    pools: Mapping[str, Scatter | None],
    images: Mapping[str, SpotImage],
) -> ZoneResult:
    usable = [s for s in several if s.usable]
    x, y = _mean_xy(several)
    combined = {name: combine(_repeats(name, several), pools[name]) for name in (*SIZES, *SHIFTS)}
    flags = sorted({flag for s in several for flag in s.spot.flags})
    return ZoneResult(
        place=place,
        x_px=x,
        y_px=y,
        field_radius=_field_radius(several),
        frames=len(usable),
        refused=len(several) - len(usable),
        at_limit_frames=sum("at limit" in s.spot.flags for s in usable),
        angle_degrees=_angle(usable),
        error_source="repeats" if len(usable) >= 2 else "photons alone",
        stamp=_stamp(usable, images),
        flags=tuple(flags),
        **combined,
    )


def _angle(usable: Sequence[Sighting]) -> Combined:
    """Axes come round at 180 degrees: their scatter is taken about their mean direction."""
    spots = [s.spot for s in usable if s.spot.angle_degrees is not None]
    angles = tuple(spot.angle_degrees for spot in spots if spot.angle_degrees is not None)
    if not angles:
        return Combined(None, None)
    mean = circular_mean(angles)
    away = tuple((angle - mean + 90) % 180 - 90 for angle in angles)
    errors = tuple(spot.angle_degrees_err or 0.0 for spot in spots)
    return Combined(mean, combine(Repeats(away, errors, relative=False)).err, values=angles)


def _stamp(usable: Sequence[Sighting], images: Mapping[str, SpotImage]) -> Floats32 | None:
    shown = [s for s in usable if s.frame.path in images and s.spot.aperture_px is not None]
    return mean_stamp(
        [images[s.frame.path] for s in shown],
        [_xy(s.spot) for s in shown],
        [s.spot.aperture_px or 0.0 for s in shown],
    )


def _notes(
    setting: LensSetting, several: Sequence[Sighting], bench: BenchFile
) -> tuple[BenchNote, ...]:
    notes = list(dict.fromkeys(note for s in several for note in s.belongs.notes))
    source, distance = bench.bench.source_diameter_mm, bench.bench.distance_m
    if source is not None and distance is not None:
        # Thin lens, far source: the image is source x focal length / distance.
        image_px = source * setting.focal_mm / (distance * 1000) / (bench.body.pitch_um / 1000)
        if image_px > MOST_SOURCE_PX:
            notes.append(BenchNote(BenchNoteCode.LARGE_SOURCE, source_px=image_px))
    return tuple(notes)


def _xy(spot: Spot) -> tuple[float, float]:
    if spot.x_px is None or spot.y_px is None:
        raise ValueError(f"{spot.file}: a spot without a place can't be put into a zone")
    return spot.x_px, spot.y_px


def _mean_xy(several: Sequence[Sighting]) -> tuple[float, float]:
    xs, ys = zip(*(_xy(s.spot) for s in several), strict=True)
    return sum(xs) / len(xs), sum(ys) / len(ys)


def _size(sighting: Sighting) -> tuple[int, int]:
    return sighting.frame.width_px or 1, sighting.frame.height_px or 1


def _field_radius(several: Sequence[Sighting]) -> float:
    x, y = _mean_xy(several)
    width, height = _size(several[0])
    return math.hypot(x - (width - 1) / 2, y - (height - 1) / 2) / (math.hypot(width, height) / 2)
