"""What a setting is worth: from a candidate to factors, blur, look and what makes them unsure."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

from nightglass.almanac.trail import trail_percent
from nightglass.bench.codes import BenchNote, BenchNoteCode
from nightglass.bench.records import SettingResult
from nightglass.gear.benchfile import BenchFile, LimitChoice
from nightglass.light.counts import COUNTS_END_G
from nightglass.light.falloff import FalloffSource
from nightglass.optics.extent import GAUSSIAN_LENGTH
from nightglass.verdict.blur import REACH, Tightness, usable_zones
from nightglass.verdict.candidate import Candidate, mean_tightness_percent
from nightglass.verdict.certainty.repeats import PooledRepeats, zone_spreads
from nightglass.verdict.certainty.spread import ZoneSpread, t_quantile
from nightglass.verdict.codes import Note, NoteCode
from nightglass.verdict.factors import Factor, FactorValue, SettingCase, seen_in
from nightglass.verdict.frame_light import corner_stops, with_darker_corners, with_transmission
from nightglass.verdict.question import Question
from nightglass.verdict.records import Interval, Worth
from nightglass.verdict.score import Judged, LightMoves
from nightglass.verdict.view.crowd import CROWDED_SHARE
from nightglass.verdict.view.eye import Eye
from nightglass.verdict.view.look import looks
from nightglass.verdict.view.seen import StarsSeen

_UNSCORED = Interval(math.nan, None, None)

FactorTable = Mapping[Question, Sequence[Factor]]


def judged(
    candidates: Sequence[Candidate],
    bench: BenchFile,
    pool: PooledRepeats,
    factors: FactorTable,
    eyes: Sequence[Eye],
) -> list[Judged]:
    """Return the candidates' worths, scores and limit still open, with what makes them unsure.

    eyes: those for which `look` is told. The candidates answer both questions.
    """
    measured: list[dict[str, FactorValue]] = [{} for _ in candidates]
    moves: list[dict[str, LightMoves]] = [{} for _ in candidates]
    for question, table in factors.items():
        cases = [one.cases[question] for one in candidates]
        unsure = [_unsure(case) for case in cases]
        for factor in table:
            found = factor.measure(cases)
            changed = iter(factor.measure([c for some in unsure for c in some.values()]))
            for k, value in enumerate(found):
                measured[k][factor.code] = value
                logs = {why: _log_ratio(next(changed).value, value.value) for why in unsure[k]}
                moves[k][factor.code] = _moves(cases[k], value, logs)
    seen = seen_in([one.cases[Question.PICTURE] for one in candidates])
    settled = []
    for one, values, stars, moved in zip(candidates, measured, seen, moves, strict=True):
        powers = {code: found.powers for code, found in values.items() if found.powers}
        spreads = zone_spreads(one.zones, powers, bench.body, one.lens.name, pool)
        worth = replace(
            _worth(one, bench, stars, spreads, eyes),
            factors={code: found.value for code, found in values.items()},
        )
        settled.append(Judged(worth, spreads, moved))
    return settled


def _worth(
    one: Candidate,
    bench: BenchFile,
    seen: StarsSeen,
    spreads: Sequence[ZoneSpread],
    eyes: Sequence[Eye],
) -> Worth:
    tight, light, body = one.tight, one.light, bench.body
    spots = one.cases[Question.PICTURE].spots
    mean_percent = mean_tightness_percent(one, bench)
    height_mm = body.picture_height_px * body.pitch_um / 1000
    trail = trail_percent(height_mm, light.exposure_s, one.focal_mm, projection=one.lens.projection)
    return Worth(
        setting=one.result.setting,
        times=one.times,
        exposure_s=light.exposure_s,
        release=bench.time.release,
        iso=light.iso,
        gathered_mm2_s=light.gathered_mm2_s,
        falloff=FalloffSource.MODEL if light.falloff is None else light.falloff.source,
        corner_stops=corner_stops(body, one.lens, light, one.focal_mm),
        factors={},
        score=_UNSCORED,
        other_score=math.nan,
        peak_kept=spots.peak_kept,
        crowded_share=seen.crowded_share,
        looks=looks(light, one.zones, body, one.lens, one.focal_mm, eyes),
        lens_tightness_percent=tight.lens_percent,
        lens_tightness_percent_err=tight.lens_percent_err,
        worst_place=tight.worst_place,
        mean_tightness_percent=mean_percent,
        tightness_percent=tight.trailed_percent,
        trail_percent=float(trail),
        at_limit=tight.at_limit,
        over_limit_percent=None,
        measured_falloff=light.falloff,
        places_measured=tuple(zone.place for zone in one.zones),
        notes=_notes(one.result, tight, seen, spreads),
        tightness_interval=_tightness_interval(tight, spreads),
    )


def eye_moves(
    case: SettingCase, cases: Sequence[SettingCase], factors: Sequence[Factor]
) -> dict[str, tuple[float, ...]]:
    """Return ln(factor) in other cases less that in one, by the factor's code; 0 for factors that
    show nothing."""
    moves = {}
    for factor in factors:
        own, *others = (found.value for found in factor.measure([case, *cases]))
        moves[factor.code] = tuple(_log_ratio(value, own) for value in others)
    return moves


def with_eyes(item: Judged, moves: Mapping[str, tuple[float, ...]]) -> Judged:
    """Return a judged setting with what other viewers make of it."""
    return replace(item, eyes=moves)


def _unsure(case: SettingCase) -> dict[str, SettingCase]:
    """The case with 1 sigma less transmission, own or common to all lenses, and with corners 1
    sigma darker."""
    known = case.light.transmission
    changed = {"darker": with_darker_corners(case.light)}
    for why, err in (("glass", known.err), ("common", known.common_err)):
        if err > 0:
            # Less light, so that glass near 1 is not asked for more than all of it.
            changed[why] = with_transmission(case.light, 1 - err / known.share)
    return {why: replace(case, light=light) for why, light in changed.items()}


def _moves(case: SettingCase, found: FactorValue, logs: Mapping[str, float]) -> LightMoves:
    """What 1 sigma of transmission, and corners 1 sigma darker, do to ln(factor).

    logs: ln(factor) in the cases of _unsure less that in the case itself.
    """
    glass, common = -logs.get("glass", 0.0), -logs.get("common", 0.0)
    dark = min(0.0, logs["darker"])
    if case.light.falloff is not None:
        # A measured falloff may be wrong to either side.
        return LightMoves(glass, 0.0, math.hypot(found.log_err, dark), common)
    return LightMoves(glass, dark, found.log_err, common)


def _log_ratio(value: float, own: float) -> float:
    return math.log(value / own) if value > 0 and own > 0 else 0.0


def with_limit(item: Judged, limit: LimitChoice | None) -> Judged:
    """Return a judged setting with the person's limit held against its blur; None: any blur."""
    over = _over(limit, item.worth)
    if over == item.worth.over_limit_percent:
        return item
    return replace(item, worth=replace(item.worth, over_limit_percent=over))


def _over(limit: LimitChoice | None, worth: Worth) -> float | None:
    """By how much a setting misses the person's limit; None within it."""
    if limit is None:
        return None
    if limit.at == "worst":
        on_lens, trailed = worth.lens_tightness_percent, worth.tightness_percent
    else:
        on_lens = worth.mean_tightness_percent
        trailed = _trailed_mean_percent(on_lens, worth.trail_percent)
    over = (on_lens if limit.on == "lens" else trailed) - limit.percent
    return over if over > 0 else None


def _trailed_mean_percent(mean_percent: float, trail_percent: float) -> float:
    """The mean blur with the centre's trail: second moments add up (an even line of length L has
    L^2 / 12, a Gaussian as long as length_px its square over 3.29)."""
    line = trail_percent * GAUSSIAN_LENGTH / math.sqrt(12)
    return math.hypot(mean_percent, line)


def _tightness_interval(tight: Tightness, spreads: Sequence[ZoneSpread]) -> Interval | None:
    worst = next(zone for zone in spreads if zone.place == tight.worst_place)
    if tight.at_limit or math.isnan(worst.length_log_err):
        return None
    err, freedom = worst.length_error
    reach = math.exp(t_quantile(freedom) * err)
    return Interval(tight.lens_percent, tight.lens_percent / reach, tight.lens_percent * reach)


def _of_the_bench(note: BenchNote) -> Note:
    """A note of the bench as one of the verdict, with what belongs to it."""
    if note.code is BenchNoteCode.BODY_ASSUMED:
        return Note(NoteCode.BODY_ASSUMED, {"body": note.body or ""})
    if note.code is BenchNoteCode.LARGE_SOURCE:
        return Note(NoteCode.LARGE_SOURCE, {"source_px": note.source_px or 0.0})
    known = ("session", "against", "hours", "percent", "err_percent")
    said = {name: getattr(note, name) for name in known}
    return Note(NoteCode(note.code), {n: value for n, value in said.items() if value is not None})


def _notes(
    result: SettingResult, tight: Tightness, seen: StarsSeen, spreads: Sequence[ZoneSpread]
) -> tuple[Note, ...]:
    """What a reader must know of this setting."""
    notes = [_of_the_bench(note) for note in result.notes]
    zones = usable_zones(result)
    if tight.at_limit:
        notes.append(Note(NoteCode.AT_LIMIT))
    elif any(zone.length_px.value is None for zone in zones):
        notes.append(Note(NoteCode.AT_LIMIT_IN_PLACES))
    single = all(zone.frames <= 1 for zone in zones)
    if single and all(math.isinf(s.degrees_of_freedom) for s in spreads):
        notes.append(Note(NoteCode.ONE_REPEAT))
    unsized = tuple(zone.place for zone in result.zones if zone not in zones)
    if unsized:
        notes.append(Note(NoteCode.PLACES_WITHOUT_SIZE, {"places": unsized}))
    if seen.untested_share > 0:
        radii = [zone.field_radius for zone in zones]
        untested = {
            "untested_percent": 100 * seen.untested_share,
            "reach": REACH,
            "radius_least": min(radii),
            "radius_most": max(radii),
        }
        notes.append(Note(NoteCode.FRAME_PARTLY_UNTESTED, untested))
    if seen.crowded_share > CROWDED_SHARE:
        notes.append(Note(NoteCode.CROWDED, {"lost_percent": 100 * seen.crowded_share}))
    if seen.beyond_counts:
        notes.append(Note(NoteCode.BEYOND_STAR_COUNTS, {"faintest_g": COUNTS_END_G}))
    return tuple(notes)
