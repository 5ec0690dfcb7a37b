"""What was asked for on the command line: it wins over bench.toml."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from nightglass.gear.benchfile import BenchFile, Place
from nightglass.gear.lens import chosen_lenses
from nightglass.shoot.wanted import planned_places


@dataclass(frozen=True)
class Asked:
    """Limits and wishes of one session; None and empty: as bench.toml says."""

    hours: float | None = None
    room_m: float | None = None
    distance_m: float | None = None
    source_mm: float | None = None
    tell_percent: float | None = None
    scatter_percent: float | None = None
    repeats: int | None = None
    lenses: tuple[str, ...] = ()
    places: tuple[str, ...] = ()
    add: bool = False
    """Only what is missing on record."""


def with_asked(bench: BenchFile, asked: Asked) -> BenchFile:
    """Return the bench with what was asked for in place of what it says.

    Raises ValueError for a value that can't be, an unknown lens or an unknown place.
    """
    if asked.hours is not None and not asked.hours > 0:
        raise ValueError(
            f"--hours {asked.hours:g}: no time left; give the hours that you have at the bench"
        )
    _check("--room", asked.room_m, 0, 10_000, "metres from camera to source, such as 12")
    _check("--distance", asked.distance_m, 0, 10_000, "metres, such as 10")
    _check("--source", asked.source_mm, 0, 1000, "mm, such as 0.5")
    _check("--tell", asked.tell_percent, 0, 200, "a difference in %, such as 10")
    _check("--scatter", asked.scatter_percent, 0, 100, "the scatter of one frame in %, such as 5")
    _check("--repeats", asked.repeats, 0, 100, "frames with refocusing, such as 5")
    session = replace(bench.plan, **_given(asked, "hours", "room_m", "tell_percent", "repeats"))
    if asked.scatter_percent is not None:
        session = replace(session, scatter_percent=asked.scatter_percent)
    notes = replace(bench.bench, **_given(asked, "distance_m"))
    if asked.source_mm is not None:
        notes = replace(notes, source_diameter_mm=asked.source_mm)
    return replace(
        bench,
        lenses=chosen_lenses(bench.lenses, asked.lenses),
        places=_places(bench, asked.places),
        plan=session,
        bench=notes,
    )


def _given(asked: Asked, *names: str) -> dict[str, Any]:
    return {name: getattr(asked, name) for name in names if getattr(asked, name) is not None}


def _check(option: str, value: float | None, over: float, most: float, words: str) -> None:
    if value is not None and not over < value <= most:
        raise ValueError(f"{option} {value:g} can't be; give {words}, at most {most:g}")


def _places(bench: BenchFile, names: Sequence[str]) -> tuple[Place, ...]:
    known = planned_places(bench)
    if not names:
        return bench.places
    chosen = []
    for name in names:
        wanted = name.casefold().strip()
        found = [p for p in known if p.name.casefold() == wanted] or [
            p for p in known if wanted and wanted in p.name.casefold()
        ]
        if not found:
            listed = ", ".join(place.name for place in known)
            raise ValueError(f'--place "{name}" is not a place of the bench; choose of: {listed}')
        chosen += [place for place in found if place not in chosen]
    return tuple(chosen)
