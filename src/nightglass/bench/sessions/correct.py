"""Drift and sessions taken out of the frames of a bench, and what is on record of each session."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from nightglass.bench.codes import BenchNote, BenchNoteCode
from nightglass.bench.combined.sightings import Sighting
from nightglass.bench.records import SharedError
from nightglass.bench.sessions.records import Change, SessionOnRecord
from nightglass.bench.sessions.ties import Fitted, Seen, Ties, reach, tie
from nightglass.bench.sessions.visits import Visited, moment, visits_of
from nightglass.gear.benchfile import BenchFile
from nightglass.optics.arrays import Floats
from nightglass.spot.record import Spot

LINEAR = ("length_px", "width_px", "ee50_px", "ee80_px", "skirt_length_px", "skirt_width_px")
"""Sizes that a correction scales; the noise area has a correction of its own."""


@dataclass(frozen=True)
class Tied:
    """Frames with drift and sessions taken out, and what was taken out."""

    sightings: tuple[Sighting, ...]
    ties: Ties
    visited: Mapping[str, Visited]
    """By session."""


def tied_together(sightings: Sequence[Sighting], bench: BenchFile) -> Tied:
    """Return the frames of a bench, corrected for what drifted and differed between sessions."""
    by_session = _by_session(sightings)
    visited = {
        name: visits_of(several, bench.plan.reference) for name, several in by_session.items()
    }
    drifting = {
        name: (v.first_hours, v.last_hours)
        for name, v in visited.items()
        if v.reference and v.first_hours is not None and v.last_hours is not None
    }
    seen = [_seen(s, visited) for s in sightings if _sized(s)]
    ties = tie(seen, drifting) if len(by_session) > 1 or drifting else Ties()
    return Tied(tuple(_corrected(s, ties) for s in sightings), ties, visited)


def shared_error(zone: Sequence[Sighting], tied: Tied) -> SharedError | None:
    """Return the error that a zone shares with all others; None where nothing was corrected.

    zone: the frames of one setting at one place.
    """
    ties, sized = tied.ties, [s for s in zone if _sized(s)]
    if ties.length is None or ties.area is None or not sized:
        return None
    rows = np.array([ties.row(s.belongs.session, moment(s)) for s in sized])
    row = rows.mean(axis=0)
    visits = {
        (s.belongs.session, tied.visited[s.belongs.session].number[s.frame.path]) for s in sized
    }
    each = math.sqrt(len(visits))
    return SharedError(
        tuple(float(v) for v in ties.length.shared(row)),
        tuple(float(v) for v in ties.area.shared(row)),
        min(ties.length.degrees_of_freedom, ties.area.degrees_of_freedom),
        ties.length.visit_deviation / each,
        ties.area.visit_deviation / each,
    )


def sessions_of(sightings: Sequence[Sighting], tied: Tied) -> tuple[SessionOnRecord, ...]:
    """Return what is on record of each session, in the order of time.

    sightings: before or after the correction.
    """
    found = [_session(name, own, tied) for name, own in _by_session(sightings).items()]
    main = max(found, key=lambda one: one.frames, default=None)
    against = tied.ties.against
    return tuple(
        replace(one, tied=main is None or against.get(one.name) == against.get(main.name))
        if len(found) > 1
        else one
        for one in found
    )


def session_notes(
    several: Sequence[Sighting], sessions: Sequence[SessionOnRecord]
) -> tuple[BenchNote, ...]:
    """Return what is to be known of the sessions in which a setting was measured."""
    own = {s.belongs.session for s in several}
    touched = [one for one in sessions if one.name in own]
    notes = []
    for one in touched:
        if one.drift is not None and one.drift.told:
            notes.append(_note(BenchNoteCode.SESSION_DRIFTED, one, one.drift))
        if one.offset is not None and one.offset.told:
            notes.append(_note(BenchNoteCode.SESSION_OFFSET, one, one.offset))
    if touched and not any(one.tied for one in touched):
        notes += [BenchNote(BenchNoteCode.SESSION_NOT_TIED, session=one.name) for one in touched]
    return tuple(notes)


def _note(code: BenchNoteCode, one: SessionOnRecord, change: Change) -> BenchNote:
    return BenchNote(
        code, session=one.name, against=one.against, hours=one.hours, percent=change.percent,
        err_percent=change.err_percent,
    )  # fmt: skip


def _session(name: str, own: Sequence[Sighting], tied: Tied) -> SessionOnRecord:
    ties, visited = tied.ties, tied.visited[name]
    first, last = visited.first_hours, visited.last_hours
    hours = None if first is None or last is None else last - first
    drift = None
    if name in ties.drifts and hours:
        drift = _change(ties, ties.drifts[name], hours)
    offset = _change(ties, ties.offsets[name], 1.0) if name in ties.offsets else None
    photons = [
        100 * s.spot.length_px_err_noise / s.spot.length_px
        for s in own
        if s.spot.length_px and s.spot.length_px_err_noise
    ]
    told = ties.length is not None and ties.length.visits_told
    visit = 100 * ties.length.visit_deviation if ties.length is not None and told else None
    return SessionOnRecord(
        name=name,
        frames=len(own),
        hours=hours,
        distances_m=tuple(sorted({s.belongs.distance_m for s in own if s.belongs.distance_m})),
        reference=visited.reference,
        drift=drift,
        offset=offset,
        against=ties.against.get(name) if offset is not None else None,
        tied=True,
        photon_percent=float(np.median(photons)) if photons else None,
        visit_percent=visit,
    )


def _change(ties: Ties, parameter: int, times: float) -> Change | None:
    fitted: Fitted | None = ties.length
    if fitted is None:
        return None
    value = float(fitted.terms[parameter]) * times
    err = math.sqrt(float(fitted.covariance[parameter, parameter])) * times
    return Change(
        100 * math.expm1(value), 100 * math.exp(value) * err,
        abs(value) > reach(fitted.degrees_of_freedom) * err,
    )  # fmt: skip


def _by_session(sightings: Sequence[Sighting]) -> dict[str, list[Sighting]]:
    groups: dict[str, list[Sighting]] = defaultdict(list)
    for sighting in sightings:
        groups[sighting.belongs.session].append(sighting)

    def start(name: str) -> tuple[float, str]:
        return min((h for s in groups[name] if (h := moment(s)) is not None), default=0.0), name

    return {name: groups[name] for name in sorted(groups, key=start)}


def _sized(sighting: Sighting) -> bool:
    return sighting.usable and bool(sighting.spot.length_px)


def _seen(sighting: Sighting, visited: Mapping[str, Visited]) -> Seen:
    belongs, spot = sighting.belongs, sighting.spot
    length = math.log(spot.length_px or math.nan)
    # Without a noise area that of the length stands in: areas go as its square.
    area = math.log(spot.noise_area_px) if spot.noise_area_px else 2 * length
    return Seen(
        (belongs.setting, sighting.place), belongs.session, moment(sighting),
        visited[belongs.session].number[sighting.frame.path], length, area,
    )  # fmt: skip


def _corrected(sighting: Sighting, ties: Ties) -> Sighting:
    if ties.length is None or ties.area is None:
        return sighting
    row = ties.row(sighting.belongs.session, moment(sighting))
    if not row.any():
        return sighting
    length, area = _factor(row, ties.length), _factor(row, ties.area)
    scaled: dict[str, float] = {}
    for name in LINEAR:
        scaled |= _scaled(sighting.spot, name, length)
    scaled |= _scaled(sighting.spot, "noise_area_px", area)
    spot = replace(sighting.spot, **scaled)  # type: ignore[arg-type]
    return replace(sighting, spot=spot, magnified=math.sqrt(area))


def _factor(row: Floats, fitted: Fitted) -> float:
    return math.exp(-float(row @ fitted.terms))


def _scaled(spot: Spot, name: str, factor: float) -> dict[str, float]:
    """The size and its errors times a factor; bounds of spots at limit stay as they were."""
    names = (name, f"{name}_err", f"{name}_err_noise")
    found = {n: getattr(spot, n, None) for n in names}
    return {n: value * factor for n, value in found.items() if value is not None}
