"""From frames on record to results per setting: what the verdict reads."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import sqlalchemy as sa

from nightglass.bench.codes import BenchNote, BenchNoteCode
from nightglass.bench.combined.combine import (
    POOL_LEAST_DOF,
    Repeats,
    Scatter,
    circular_mean,
    combine,
    pooled_scatter,
)
from nightglass.bench.combined.sightings import (
    Sighting,
    field_radius,
    mean_xy,
    sightings_on_record,
    source_px,
    xy,
)
from nightglass.bench.combined.stamp import magnified, mean_stamp
from nightglass.bench.records import Combined, SettingResult, SharedError, ZoneResult
from nightglass.bench.sessions.correct import (
    session_notes,
    sessions_of,
    shared_error,
    tied_together,
)
from nightglass.bench.store.packing import pack, unpack
from nightglass.bench.store.store import Store, open_store
from nightglass.bench.study.study import Study, results_of, study_table
from nightglass.gear.benchfile import BenchFile
from nightglass.gear.lens import LensSetting
from nightglass.optics.arrays import Floats32
from nightglass.spot.record import SpotImage

SIZES = (
    "length_px",
    "width_px",
    "ee50_px",
    "ee80_px",
    "skirt_length_px",
    "noise_area_px",
)
SHIFTS = ("lean", "colour_offset_red_px", "colour_offset_blue_px", "radial_angle_degrees")
ROLLED_WITHIN_DEGREES = 45.0
MOST_SOURCE_PX = 0.5
"""Width of the light source's own image that leaves sizes as they are."""


def results_on_record(bench: BenchFile) -> tuple[SettingResult, ...]:
    """Return the repeats of the bench's own store, combined. Raises StoreError."""
    store = open_store(bench)
    try:
        return results_of(REPEATS, store, bench)
    finally:
        store.close()


def setting_results(store: Store, bench: BenchFile) -> tuple[SettingResult, ...]:
    """Return every setting of bench.toml that has frames on record, repeats combined.

    Frames that bench.toml can't place, or whose files are gone, are left out (`measure` names
    them). Zones stand in the order of bench.toml's places. Raises StoreError.
    """
    tied = tied_together(sightings_on_record(store, bench), bench)
    sightings, sessions = tied.sightings, sessions_of(tied.sightings, tied)
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
                _zone(several, pools[setting.lens], images, shared_error(several, tied), bench)
                for several in places.values()
            ),
            sessions=max(1, len({s.belongs.session for s in by_setting[setting]} - {""})),
            notes=(
                *_notes(by_setting[setting], bench),
                *session_notes(by_setting[setting], sessions),
            ),
        )
        for setting, places in zones.items()
    )


def _by_place(several: Iterable[Sighting], bench: BenchFile) -> dict[str, list[Sighting]]:
    places: dict[str, list[Sighting]] = defaultdict(list)
    for sighting in several:
        places[sighting.place].append(sighting)
    order = {place.name: k for k, place in enumerate(bench.places)}

    def rank(place: str) -> tuple[int, float, str]:
        return order.get(place, len(order)), field_radius(places[place]), place

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
    several: Sequence[Sighting],
    pools: Mapping[str, Scatter | None],
    images: Mapping[str, SpotImage],
    shared: SharedError | None,
    bench: BenchFile,
) -> ZoneResult:
    usable = [s for s in several if s.usable]
    x, y = mean_xy(several)
    combined = {name: combine(_repeats(name, several), pools[name]) for name in (*SIZES, *SHIFTS)}
    flags = sorted({flag for s in several for flag in s.spot.flags})
    sources = [px for s in several if (px := source_px(s.belongs, bench)) is not None]
    return ZoneResult(
        place=several[0].place,
        x_px=x,
        y_px=y,
        field_radius=field_radius(several),
        frames=len(usable),
        refused=len(several) - len(usable),
        at_limit_frames=sum("at limit" in s.spot.flags for s in usable),
        angle_degrees=_angle(usable),
        error_source="repeats" if len(usable) >= 2 else "photons alone",
        stamp=_stamp(usable, images),
        flags=tuple(flags),
        shared=shared,
        rolled=_rolled(usable),
        refocused=_refocused(usable),
        source_px=max(sources, default=None),
        **combined,
    )


def _rolled(usable: Sequence[Sighting]) -> tuple[bool, ...]:
    """Of each frame that gave a length, whether the camera was turned by about half a circle."""
    measured = [s.belongs.roll_degrees for s in usable if s.spot.length_px is not None]
    if not any(measured):
        return ()
    return tuple(abs((roll or 0.0) % 360 - 180) < ROLLED_WITHIN_DEGREES for roll in measured)


def _refocused(usable: Sequence[Sighting]) -> bool | None:
    said = {s.belongs.refocused for s in usable}
    return None if None in said or not said else said == {True}


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
    stamp = mean_stamp(
        [images[s.frame.path] for s in shown],
        [xy(s.spot) for s in shown],
        [s.spot.aperture_px or 0.0 for s in shown],
    )
    if stamp is None:
        return None
    return magnified(stamp, sum(s.magnified for s in shown) / len(shown))


def _notes(several: Sequence[Sighting], bench: BenchFile) -> tuple[BenchNote, ...]:
    notes = list(dict.fromkeys(note for s in several for note in s.belongs.notes))
    images_px = [width for s in several if (width := source_px(s.belongs, bench)) is not None]
    if images_px and max(images_px) > MOST_SOURCE_PX:
        notes.append(BenchNote(BenchNoteCode.LARGE_SOURCE, source_px=max(images_px)))
    return tuple(notes)


def _row(result: SettingResult) -> dict[str, Any]:
    setting = result.setting
    return {
        "body": setting.body,
        "lens": setting.lens,
        "focal_mm": setting.focal_mm,
        "f_number": setting.f_number,
        "frames": sum(zone.frames for zone in result.zones),
        "content": pack(result),
    }


def _from_row(row: Mapping[str, Any]) -> SettingResult:
    found: SettingResult = unpack(row["content"])
    return found


REPEATS = Study(
    name="repeats",
    work_out=lambda store, bench: setting_results(store, bench),
    table=study_table(
        "repeats",
        sa.Column("body", sa.Text, nullable=False),
        sa.Column("lens", sa.Text, nullable=False),
        sa.Column("focal_mm", sa.Double, nullable=False),
        sa.Column("f_number", sa.Double, nullable=False),
        sa.Column("frames", sa.Integer, nullable=False),
        sa.Column("content", sa.LargeBinary, nullable=False),
    ),
    to_row=_row,
    from_row=_from_row,
)
