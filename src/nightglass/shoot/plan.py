"""The plan of a session, from bench.toml and from what is on record."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

from nightglass.bench.combined.combine import Scatter
from nightglass.bench.combined.sightings import sightings_on_record
from nightglass.bench.store.packing import pack
from nightglass.bench.store.store import Store
from nightglass.bench.study.repeats import REPEATS
from nightglass.bench.study.study import results_of
from nightglass.gear.benchfile import BenchFile
from nightglass.shoot.asked import Asked, with_asked
from nightglass.shoot.distances import distance
from nightglass.shoot.exposures import Trial, trials
from nightglass.shoot.records import BenchPlan, Block, Distance
from nightglass.shoot.repeats_needed import known_scatter, precision_of
from nightglass.shoot.short import Bag, fit
from nightglass.shoot.shot_list import blocks
from nightglass.shoot.wanted import f_numbers, focal_lengths_mm, planned_places


@dataclass(frozen=True)
class Known:
    """What frames on record tell the plan."""

    scatter: Scatter | None = None
    trials: tuple[Trial, ...] = ()


def known_of(store: Store, bench: BenchFile) -> Known:
    """Return what the frames on record say of scatter and exposure. Raises StoreError."""
    results = results_of(REPEATS, store, bench)
    return Known(known_scatter(results), trials(sightings_on_record(store, bench)))


def plan_bench(
    bench: BenchFile, asked: Asked | None = None, known: Known | None = None
) -> BenchPlan:
    """Return the plan of a session for the gear, places and limits of a bench.

    asked: what wins over bench.toml. Raises ValueError where that can't be, where no lens can be
    tested in the room, or where not even the shortest plan fits the time.
    """
    known, stamp = known or Known(), gear_stamp(bench)
    bench = with_asked(bench, asked or Asked())
    places, distances = planned_places(bench), distances_of(bench)
    testable = frozenset((d.lens, d.focal_mm) for d in distances if d.distance_m is not None)
    lenses = tuple(lens for lens in bench.lenses if any(lens.name == name for name, _ in testable))
    if not lenses:
        raise ValueError(_no_room(bench, distances))
    full = precision_of(bench.plan, known.scatter)
    fitting = fit(Bag(bench, lenses, places, testable), full.repeats)
    listed = blocks(fitting.scope, bench, known.trials)
    return BenchPlan(
        body=bench.body,
        distances=distances,
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
    )


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
