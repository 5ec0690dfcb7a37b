"""The plan of a session, from bench.toml and from what is on record."""

from __future__ import annotations

import hashlib
import math
from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime

from nightglass.bench.combined.combine import Scatter
from nightglass.bench.combined.sightings import sightings_on_record
from nightglass.bench.store.packing import pack
from nightglass.bench.store.store import Store
from nightglass.bench.study.repeats import REPEATS
from nightglass.bench.study.study import results_of
from nightglass.gear.benchfile import BenchFile, Place
from nightglass.gear.lens import LensSetting
from nightglass.shoot.asked import Asked, with_asked
from nightglass.shoot.codes import Role
from nightglass.shoot.distances import distance
from nightglass.shoot.exposures import Trial, trials
from nightglass.shoot.records import BenchPlan, Block, Distance
from nightglass.shoot.repeats_needed import known_scatter, precision_of
from nightglass.shoot.short import Bag, Keep, fit, scope_of
from nightglass.shoot.shot_list import blocks, steps
from nightglass.shoot.wanted import f_numbers, focal_lengths_mm, planned_places


@dataclass(frozen=True)
class Known:
    """What frames on record tell the plan."""

    scatter: Scatter | None = None
    trials: tuple[Trial, ...] = ()
    rounds: Mapping[LensSetting, Mapping[str, int]] = field(default_factory=dict)
    """Frames of use per setting and place."""
    frames: tuple[str, ...] = ()
    """Their content."""


def known_of(store: Store, bench: BenchFile) -> Known:
    """Return what the frames on record say of scatter and exposure. Raises StoreError."""
    results = results_of(REPEATS, store, bench)
    seen = sightings_on_record(store, bench)
    rounds: dict[LensSetting, Counter[str]] = defaultdict(Counter)
    for one in seen:
        if one.usable:
            rounds[one.belongs.setting][one.place] += 1
    content = tuple(sorted({one.frame.content_hash for one in seen}))
    return Known(known_scatter(results), trials(seen), dict(rounds), content)


def plan_bench(
    bench: BenchFile, asked: Asked | None = None, known: Known | None = None
) -> BenchPlan:
    """Return the plan of a session for the gear, places and limits of a bench.

    asked: what wins over bench.toml. Raises ValueError where that can't be, where no lens can be
    tested in the room, or where not even the shortest plan fits the time.
    """
    known, stamp, asked = known or Known(), gear_stamp(bench), asked or Asked()
    whole, bench = bench, with_asked(bench, asked)
    places, distances = planned_places(bench), distances_of(bench)
    testable = frozenset((d.lens, d.focal_mm) for d in distances if d.distance_m is not None)
    lenses = tuple(lens for lens in bench.lenses if any(lens.name == name for name, _ in testable))
    if not lenses:
        raise ValueError(_no_room(bench, distances))
    full = precision_of(bench.plan, known.scatter)
    on_record = _on_record(known, places) if asked.add else {}
    bag = Bag(bench, lenses, places, testable, on_record)
    if not any(step.role is Role.MEASURE for step in steps(scope_of(bag, Keep(full.repeats)))):
        raise ValueError(
            f"nothing is missing: every setting has {full.repeats} frames or more at each place; "
            "ask for more with --repeats, or leave out --add to begin a new session"
        )
    fitting = fit(bag, full.repeats)
    listed = blocks(fitting.scope, bench, known.trials)
    return BenchPlan(
        body=bench.body,
        distances=distances + _of_reference(fitting.scope.reference, bench, whole),
        blocks=listed,
        precision=precision_of(bench.plan, known.scatter, fitting.scope.repeats),
        full_precision=full,
        total=fitting.total,
        full=fitting.full_total,
        hours=bench.plan.hours,
        cuts=fitting.cuts,
        source_mm=bench.bench.source_diameter_mm,
        reference=fitting.scope.reference,
        stamp=_stamp(listed),
        gear_stamp=stamp,
        made=datetime.now(UTC),
        on_record=tuple(sorted(on_record.items())),
        before=known.frames if asked.add else (),
    )


def _of_reference(
    reference: LensSetting, asked: BenchFile, whole: BenchFile
) -> tuple[Distance, ...]:
    """Distances of a reference lens that was not among those asked for."""
    if asked.lens(reference.lens) is not None:
        return ()
    own = distances_of(replace(asked, lenses=(whole.lens_of(reference),)))
    return tuple(d for d in own if d.focal_mm == reference.focal_mm)


def _on_record(known: Known, places: Sequence[Place]) -> dict[LensSetting, int]:
    """Rounds that a setting has on record: the frames of the place that has fewest.

    Raises ValueError where no setting has one at each place: there is nothing to add to.
    """
    fewest = {
        setting: min(frames.get(place.name, 0) for place in places)
        for setting, frames in known.rounds.items()
    }
    whole = {setting: number for setting, number in fewest.items() if number}
    if not whole:
        raise ValueError(
            "--add: no setting has a frame at each place on record, so there is nothing to add "
            "to; run nightglass measure first, or leave out --add"
        )
    return whole


def distances_of(bench: BenchFile) -> tuple[Distance, ...]:
    """Return the distances of every lens at every focal length to test, as bench.toml says."""
    places = planned_places(bench)
    return tuple(
        distance(bench, lens, focal, f_numbers(lens, focal, bench.plan.f_numbers)[0], places)
        for lens in bench.lenses
        for focal in focal_lengths_mm(lens)
    )


def gear_stamp(bench: BenchFile) -> str:
    """Return a stamp of what a plan takes from bench.toml."""
    asked = (bench.body, bench.lenses, bench.places, bench.plan, bench.bench.distance_m)
    whole = pack((asked, bench.bench.source_diameter_mm))
    return hashlib.blake2b(whole, digest_size=6).hexdigest()


def distance_of(plan: BenchPlan, lens: str, focal_mm: float) -> Distance:
    """Return the distances of a lens at a focal length. Raises LookupError for one not planned."""
    found = next((d for d in plan.distances if (d.lens, d.focal_mm) == (lens, focal_mm)), None)
    if found is None:
        raise LookupError(f"{lens} at {focal_mm:g} mm is not in the plan")
    return found


def _stamp(listed: Sequence[Block]) -> str:
    """Of the lines and their frames; exposures are corrected as frames come and don't count."""
    lines = [(line.id, line.frames) for block in listed for line in block.lines]
    return hashlib.blake2b(pack(lines), digest_size=6).hexdigest()


def _no_room(bench: BenchFile, distances: Sequence[Distance]) -> str:
    needs = min(d.needs_room_m for d in distances if d.needs_room_m is not None)
    room, source = bench.plan.room_m or 0.0, bench.bench.source_diameter_mm or 0.0
    largest = math.floor(100 * source * room / needs) / 100
    smaller = f", or a source of at most {largest:g} mm" if largest > 0 else ""
    return (
        f"no lens can be tested in {room:g} m with a source of {source:g} mm: its image would be "
        f"over half a pixel; it takes a room of {math.ceil(10 * needs) / 10:g} m{smaller}"
    )
