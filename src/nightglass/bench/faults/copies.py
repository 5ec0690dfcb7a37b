"""Is this copy of a lens alike on all sides? Places at equal radius held against each other.

The one definition for all commands: `rank`, the card and `faults` read it from here.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
from scipy.special import fdtrc

from nightglass.bench.combined.combine import POOL_LEAST_DOF, Repeats, pooled_scatter
from nightglass.bench.faults.power import chance_to_find, ratio_found
from nightglass.bench.faults.rings import Ring, RingPlace, groups_of, rings_of
from nightglass.bench.records import SettingResult
from nightglass.gear.body import Body
from nightglass.gear.lens import LensSetting
from nightglass.optics.arrays import Floats

FALSE_ALARM = 0.05
"""Share of sound lenses that may be called uneven: of lenses, not of settings."""
TEST_LEVEL = 0.035
"""Chance up to which a copy is called uneven. Where blur hangs on focus and place in its own way,
up to 1.3 times as many sound lenses show as much as the test says (design/copies.py): a level that
much lower keeps the worst kind of simulated lens within the 5 %."""
SUSPECT_RATIO = 1.2
"""Worst corner over the best from which a copy is worth a word (common practice)."""
POWER_RATIO = 1.5
"""The fault for which the chance to find it is stated."""
MOST_OF_IT = 0.67
"""Share of the differences that one side must explain to be named."""


class CopyVerdict(StrEnum):
    """What the places at equal radius say of a copy."""

    UNEVEN = "uneven"
    SLIGHT = "slight"
    NONE_SHOWN = "none_shown"
    NOT_TESTED = "not_tested"


class CopyReason(StrEnum):
    """Why a copy was not tested."""

    TOO_FEW_PLACES = "too_few_places"
    NO_REPEATS = "no_repeats"
    AT_LIMIT = "at_limit"


@dataclass(frozen=True)
class Roll:
    """What turning the camera by half a circle tells of the bench.

    A fault of the bench stays with the room and so moves to the other side of the frame; it falls
    out of the mean of both, from which the copy is judged.
    """

    bench_chance: float
    """How often a bench without faults shows as much: 0 to 1."""
    bench_at_fault: bool


@dataclass(frozen=True)
class CopyFinding:
    """One setting of one copy of a lens."""

    setting: LensSetting
    verdict: CopyVerdict
    reason: CopyReason | None = None
    places: tuple[str, ...] = ()
    """Those held against each other."""
    worst_place: str | None = None
    best_place: str | None = None
    ratio: float | None = None
    """Length in the worst place over that in the best of the same ring."""
    at_least: bool = False
    """Whether the best place is at limit, so that the ratio is a lower bound."""
    chance: float | None = None
    """How often a sound lens shows as much, for all settings of the lens together: 0 to 1."""
    softer_toward_degrees: float | None = None
    """Direction in the frame (0 right, 90 down) toward which it gets softer, where one side
    explains most."""
    scatter_percent: float | None = None
    """Of a single repeat."""
    repeats: int = 0
    """The fewest at one place."""
    power: float | None = None
    """Chance to find a worst place 1.5 times as blurred as the best, with this scatter and these
    repeats."""
    found_ratio: float | None = None
    """Ratio that is found with a chance of 90 %."""
    roll: Roll | None = None
    """None where no places were taken with the camera both ways up."""


def copies_of(results: Sequence[SettingResult], body: Body) -> dict[LensSetting, CopyFinding]:
    """Return what each setting says of its copy.

    ln(length) of the places of a ring is held against the scatter of repeats by an F test, places
    that lie a little farther out brought to the ring's radius. All settings of one lens share one
    chance of a wrong alarm (Holm 1979, Scandinavian Journal of Statistics 6, 65).
    """
    by_lens: dict[tuple[str, str], list[SettingResult]] = defaultdict(list)
    for result in results:
        by_lens[result.setting.body, result.setting.lens].append(result)
    found: dict[LensSetting, CopyFinding] = {}
    for several in by_lens.values():
        found |= _of_one_lens(several, body)
    return found


@dataclass(frozen=True)
class _Tested:
    finding: CopyFinding
    p: float
    variance: float
    """Of the mean of one place, ln(length)."""
    between: int
    within: float
    """Degrees of freedom."""


def _of_one_lens(results: Sequence[SettingResult], body: Body) -> dict[LensSetting, CopyFinding]:
    everything = [Repeats(group) for r in results for z in r.zones for group in groups_of(z)]
    pool = pooled_scatter(everything, POOL_LEAST_DOF)
    pooled = None if pool is None else (pool.deviation, pool.dof)
    tried = {result.setting: _tested(result, body, pooled) for result in results}
    tested = {s: one for s, one in tried.items() if isinstance(one, _Tested)}
    found = {s: one for s, one in tried.items() if isinstance(one, CopyFinding)}
    chances = _holm({setting: one.p for setting, one in tested.items()})
    for setting, one in tested.items():
        found[setting] = _settled(one, chances[setting], TEST_LEVEL / len(tested))
    return found


def _settled(one: _Tested, chance: float, level: float) -> CopyFinding:
    ratio = one.finding.ratio or 1.0
    verdict = CopyVerdict.NONE_SHOWN
    if chance <= TEST_LEVEL:
        verdict = CopyVerdict.UNEVEN if ratio >= SUSPECT_RATIO else CopyVerdict.SLIGHT
    return replace(
        one.finding,
        verdict=verdict,
        chance=chance,
        power=chance_to_find(POWER_RATIO, one.variance, one.between, one.within, level),
        found_ratio=ratio_found(one.variance, one.between, one.within, level),
    )


def _holm(p: Mapping[LensSetting, float]) -> dict[LensSetting, float]:
    """Each p such that one level holds for all of them together."""
    adjusted: dict[LensSetting, float] = {}
    most = 0.0
    for k, setting in enumerate(sorted(p, key=lambda s: (p[s], s))):
        most = max(most, min(1.0, (len(p) - k) * p[setting]))
        adjusted[setting] = most
    return adjusted


def _tested(
    result: SettingResult, body: Body, pool: tuple[float, int] | None
) -> _Tested | CopyFinding:
    rings = rings_of(result, body)
    places = [place for ring in rings for place in ring.places]
    if not places:
        return CopyFinding(result.setting, CopyVerdict.NOT_TESTED, CopyReason.TOO_FEW_PLACES)
    finding = _extremes(result.setting, rings)
    if all(place.at_limit for place in places):
        return replace(finding, reason=CopyReason.AT_LIMIT)
    own = pooled_scatter([Repeats(g) for place in places for g in place.groups], POOL_LEAST_DOF)
    scatter = pool if own is None else (own.deviation, own.dof)
    if scatter is None:
        return replace(finding, reason=CopyReason.NO_REPEATS)
    return _held_together(finding, rings, *scatter)


def _held_together(
    finding: CopyFinding, rings: Sequence[Ring], deviation: float, dof: int
) -> _Tested:
    places = [place for ring in rings for place in ring.places]
    noise = [deviation**2 / place.repeats for place in places]
    variances = [n + place.log_err**2 for n, place in zip(noise, places, strict=True)]
    between = len(places) - len(rings)
    within = dof * (sum(variances) / max(sum(noise), 1e-30)) ** 2
    weights = {id(place): 1 / v for place, v in zip(places, variances, strict=True)}
    squares = sum(
        weights[id(place)] * away**2 for ring in rings for place, away in _deviations(ring, weights)
    )
    p = float(fdtrc(between, within, squares / between))
    return _Tested(
        replace(
            finding,
            softer_toward_degrees=_one_side(rings, weights),
            scatter_percent=100 * deviation,
            repeats=min(sum(map(len, place.groups)) or 1 for place in places),
            roll=_roll(rings, deviation, dof),
        ),
        p,
        sum(variances) / len(variances),
        between,
        within,
    )


def _deviations(ring: Ring, weights: Mapping[int, float]) -> list[tuple[RingPlace, float]]:
    total = sum(weights[id(place)] for place in ring.places)
    mean = sum(weights[id(place)] * place.log_length for place in ring.places) / total
    return [(place, place.log_length - mean) for place in ring.places]


def _one_side(rings: Sequence[Ring], weights: Mapping[int, float]) -> float | None:
    """Direction of the slope that explains most of the differences; None if none does, or if two
    places leave it open."""
    apart = [(place, away) for ring in rings for place, away in _deviations(ring, weights)]
    where = np.array([_direction(place) for place, _ in apart])
    away = np.array([value for _, value in apart])
    if np.linalg.matrix_rank(where - where.mean(axis=0), tol=1e-3) < where.shape[1]:
        return None
    slope, *_ = np.linalg.lstsq(where, away, rcond=None)
    left: Floats = away - where @ slope
    total = float(away @ away)
    if not total > 0 or 1 - float(left @ left) / total < MOST_OF_IT:
        return None
    return math.degrees(math.atan2(slope[1], slope[0])) % 360


def _direction(place: RingPlace) -> tuple[float, float]:
    turn = math.radians(place.azimuth_degrees)
    return math.cos(turn), math.sin(turn)


def _extremes(setting: LensSetting, rings: Sequence[Ring]) -> CopyFinding:
    """Best and worst place of the ring where they differ most."""
    worst, best, most = None, None, -math.inf
    for ring in rings:
        long = max(ring.places, key=lambda place: place.length_px)
        short = min(ring.places, key=lambda place: place.length_px)
        if long.length_px / short.length_px > most:
            worst, best, most = long, short, long.length_px / short.length_px
    return CopyFinding(
        setting,
        CopyVerdict.NOT_TESTED,
        places=tuple(place.place for ring in rings for place in ring.places),
        worst_place=None if worst is None else worst.place,
        best_place=None if best is None else best.place,
        ratio=most if worst is not None else None,
        at_least=best is not None and best.at_limit,
    )


def _roll(rings: Sequence[Ring], deviation: float, dof: int) -> Roll | None:
    """What turning the camera tells: the part of the differences that turned with the room.

    Unrolled over rolled is the same at all places of a lens in a bench without faults; a bench
    that blurs one side of the room more makes opposite places differ.
    """
    squares, between = 0.0, 0
    for ring in rings:
        known = [(p.roll_log, p.repeats) for p in ring.places if p.roll_log is not None]
        if len(known) < 2:
            continue
        total = sum(repeats for _, repeats in known)
        mean = sum(value * repeats for value, repeats in known) / total
        squares += sum(repeats * (value - mean) ** 2 for value, repeats in known)
        between += len(known) - 1
    if between == 0:
        return None
    chance = float(fdtrc(between, dof, squares / between / deviation**2))
    return Roll(chance, chance <= FALSE_ALARM)
