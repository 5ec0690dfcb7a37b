"""A plan that fits the time: what is left out first costs least certainty.

Repeats go first, down to three; then the f-numbers farthest stopped down, the middle of zooms, two
corners, and so on; whole lenses go last, the last of the bag first. What time is left then buys
repeats again.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from nightglass.gear.benchfile import BenchFile, Place
from nightglass.gear.lens import Lens, LensSetting
from nightglass.shoot.codes import CutCode
from nightglass.shoot.records import Cut, Total
from nightglass.shoot.repeats_needed import LEAST_REPEATS
from nightglass.shoot.shot_list import REFERENCE_ROUNDS, Scope, total_of
from nightglass.shoot.wanted import f_numbers, fewer_places, focal_lengths_mm

FEWEST_REPEATS = 2
"""One says nothing of scatter."""
FEWEST_REFERENCE_ROUNDS = 1
_MANY = 99


@dataclass(frozen=True)
class Keep:
    """How much of each kind a plan keeps."""

    repeats: int
    f_numbers: int = _MANY
    zoom_marks: int = 3
    """3: all; 2: the ends; 1: the short end."""
    places: int = _MANY
    reference_rounds: int = REFERENCE_ROUNDS
    lenses: int = _MANY


@dataclass(frozen=True)
class Fitting:
    """A plan that fits, and what it leaves out of the full one."""

    scope: Scope
    total: Total
    full: Scope
    full_total: Total
    cuts: tuple[Cut, ...]


@dataclass(frozen=True)
class Bag:
    """What can be tested at all."""

    bench: BenchFile
    lenses: tuple[Lens, ...]
    places: tuple[Place, ...]
    testable: frozenset[tuple[str, float]]
    """(lens, focal length) for which the room is long enough."""
    on_record: Mapping[LensSetting, int] = field(default_factory=dict)
    """Rounds that earlier sessions hold already, where only what is missing is asked for."""


def fit(bag: Bag, repeats: int) -> Fitting:
    """Return the fullest plan that fits the hours of the bench; the full one without hours.

    Raises ValueError where not even the shortest fits.
    """
    pace, hours = bag.bench.plan.pace, bag.bench.plan.hours
    full = scope_of(bag, Keep(repeats))
    full_total = total_of(full, pace)
    if hours is None or full_total.minutes <= hours * 60:
        return Fitting(full, full_total, full, full_total, ())
    scope = full
    for kept in _shorter(bag, repeats):
        scope = scope_of(bag, kept)
        if total_of(scope, pace).minutes <= hours * 60:
            scope = _more_repeats(scope, repeats, hours * 60, pace)
            return Fitting(scope, total_of(scope, pace), full, full_total, cuts(full, scope))
    shortest = total_of(scope, pace)
    first = bag.lenses[0].name
    raise ValueError(
        f"{_time_words(hours * 60)} at the bench is too short: the shortest plan, {first} alone "
        f"with {shortest.frames} frames, takes {shortest.minutes:.0f} min; give more time"
    )


def scope_of(bag: Bag, keep: Keep) -> Scope:
    """Return what a plan keeps, in the order of bench.toml."""
    lenses = bag.lenses[: keep.lenses]
    settings = tuple(
        LensSetting(bag.bench.body.name, lens.name, focal, f_number)
        for lens in lenses
        for focal in _zooms(_testable(bag, lens), keep.zoom_marks)
        for f_number in f_numbers(lens, focal, bag.bench.plan.f_numbers)[: keep.f_numbers]
    )
    places = fewer_places(bag.places, keep.places, bag.bench)
    return Scope(
        lenses,
        settings,
        places,
        keep.repeats,
        _reference(bag, settings),
        keep.reference_rounds,
        bag.on_record,
    )


def cuts(full: Scope, short: Scope) -> tuple[Cut, ...]:
    """Return what a short plan leaves out of a full one, lens by lens only where whole ones go."""
    kept = {lens.name for lens in short.lenses}
    gone = tuple(lens.name for lens in full.lenses if lens.name not in kept)
    found = []
    if gone:
        found.append(Cut(CutCode.LENSES, len(full.lenses), len(short.lenses), gone))
    was = [s for s in full.settings if s.lens in kept]
    zooms_gone = sorted({_zoom(s) for s in was} - {_zoom(s) for s in short.settings})
    if zooms_gone:
        ends = {lens.name: focal_lengths_mm(lens)[-1] for lens in full.lenses}
        long_gone = any(focal == ends[lens] for lens, focal in zooms_gone)
        code = CutCode.ZOOM_LONG_ENDS if long_gone else CutCode.ZOOM_MIDDLES
        left = len({_zoom(s) for s in short.settings})
        found.append(Cut(code, left + len(zooms_gone), left, zooms=tuple(zooms_gone)))
    before, after = _marks(was), _marks(short.settings)
    if after < before:
        found.append(Cut(CutCode.F_NUMBERS, before, after))
    places_gone = tuple(p.name for p in full.places if p not in short.places)
    if places_gone:
        found.append(Cut(CutCode.PLACES, len(full.places), len(short.places), places_gone))
    if short.repeats < full.repeats:
        found.append(Cut(CutCode.REPEATS, full.repeats, short.repeats))
    if short.reference_rounds < full.reference_rounds:
        found.append(Cut(CutCode.REFERENCE_ROUNDS, full.reference_rounds, short.reference_rounds))
    return tuple(found)


def _shorter(bag: Bag, repeats: int) -> Iterator[Keep]:
    """Ever shorter plans, one step at a time."""
    keep = Keep(repeats)
    for number in range(repeats - 1, LEAST_REPEATS - 1, -1):
        keep = replace(keep, repeats=number)
        yield keep
    for change in (
        {"f_numbers": 2},
        {"zoom_marks": 2},
        {"places": 3},
        {"f_numbers": 1},
        {"places": 2},
        {"repeats": min(FEWEST_REPEATS, repeats)},
        {"reference_rounds": FEWEST_REFERENCE_ROUNDS},
        {"zoom_marks": 1},
    ):
        keep = replace(keep, **change)
        yield keep
    for number in range(len(bag.lenses) - 1, 0, -1):
        keep = replace(keep, lenses=number)
        yield keep


def _more_repeats(scope: Scope, most: int, minutes: float, pace: float) -> Scope:
    for number in range(scope.repeats + 1, most + 1):
        more = replace(scope, repeats=number)
        if total_of(more, pace).minutes > minutes:
            return scope
        scope = more
    return scope


def _testable(bag: Bag, lens: Lens) -> tuple[float, ...]:
    return tuple(f for f in focal_lengths_mm(lens) if (lens.name, f) in bag.testable)


def _zooms(marks: Sequence[float], most: int) -> tuple[float, ...]:
    if most >= 3 or len(marks) < 2:
        return tuple(marks)
    return (marks[0], marks[-1]) if most == 2 else (marks[0],)


def _reference(bag: Bag, settings: Sequence[LensSetting]) -> LensSetting:
    """The first setting of the lens that bench.toml names, else of the first lens.

    Where a session adds to others: the one with most on record, which ties them together.
    """
    if bag.on_record:
        return max(bag.on_record, key=lambda setting: bag.on_record[setting])
    name = bag.bench.plan.reference
    return next((s for s in settings if s.lens == name), settings[0])


def _zoom(setting: LensSetting) -> tuple[str, float]:
    return setting.lens, setting.focal_mm


def _marks(settings: Sequence[LensSetting]) -> int:
    """The most f-numbers that any lens has at a focal length."""
    zooms = [_zoom(s) for s in settings]
    return max(zooms.count(zoom) for zoom in set(zooms))


def _time_words(minutes: float) -> str:
    return f"{minutes / 60:g} h" if minutes >= 60 else f"{minutes:.0f} min"
