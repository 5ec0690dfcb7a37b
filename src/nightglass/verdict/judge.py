"""The whole verdict: from results per setting to a ranking with everything it assumed."""

from __future__ import annotations

import math
from collections.abc import Sequence

from nightglass.almanac.trail import trail_percent
from nightglass.bench.records import SettingResult
from nightglass.gear.benchfile import BenchFile
from nightglass.gear.lens import Lens
from nightglass.light.counts import COUNTS_END_G
from nightglass.verdict.assumptions import assumptions
from nightglass.verdict.blur import (
    REACH,
    Tightness,
    tightness,
    usable_zones,
    worst_zone,
)
from nightglass.verdict.factors import FACTORS, Factor, SettingLight, weights_of
from nightglass.verdict.front import unbeaten
from nightglass.verdict.holds import TRIALS, order_holds
from nightglass.verdict.jumps import zoom_jumps
from nightglass.verdict.purpose import purpose_limit
from nightglass.verdict.ranking import best_of_each_lens, standings
from nightglass.verdict.records import Interval, Note, NoteCode, NotRanked, Ranking, Worth
from nightglass.verdict.repeats import PooledRepeats, pool_repeats, zone_spreads
from nightglass.verdict.score import Judged, pick_reference, with_scores
from nightglass.verdict.spread import ZoneSpread, t_quantile
from nightglass.verdict.times import longest_times
from nightglass.verdict.worth import StarCount, frame_light, star_count

_UNSCORED = Interval(math.nan, None, None)


def judge(
    results: Sequence[SettingResult],
    bench_file: BenchFile,
    trials: int = TRIALS,
    factors: Sequence[Factor] = FACTORS,
) -> Ranking:
    """Return the ranking of lenses, given the results of all settings on record.

    bench_file: body, lenses and what the person chose; whatever it leaves open is a default and
    stands in `assumptions`. What can't be judged stands in `not_ranked` with the reason; without
    any result the ranking is empty. trials: for "how often the order holds". factors: of the
    score. Raises ValueError for weights outside 0 to 1, a limit or purpose that has no meaning, a
    reference that was not measured, or a setting that was handed in twice.
    """
    weights = weights_of(bench_file.score, factors)
    limit = purpose_limit(bench_file.purpose, _shape(bench_file))
    usable, refused = _sorted_out(results, bench_file)
    pool = pool_repeats(usable)
    judged = [_judged(r, bench_file, limit.limit_percent, pool, factors) for r in usable]
    not_ranked = (*refused, *_untested(bench_file, usable, refused))
    sessions = min((result.sessions for result in usable), default=1)
    stated = assumptions(
        bench_file, limit, [item.worth for item in judged], pool, weights, sessions
    )
    if not judged:
        return Ranking((), (), (), None, limit.limit_percent, limit.words, None, stated, not_ranked)
    reference = pick_reference(judged, weights, bench_file.score.reference)
    scored = with_scores(judged, reference, weights)
    ranked = standings(best_of_each_lens(scored), weights)
    worths = tuple(item.worth for item in scored)
    return Ranking(
        standings=ranked,
        worths=tuple(sorted(worths, key=lambda worth: worth.setting)),
        unbeaten=unbeaten(worths),
        reference=reference.worth.setting,
        limit_percent=limit.limit_percent,
        limit_purpose=limit.words,
        order_holds=order_holds(scored, ranked, limit.limit_percent, trials, factors=factors),
        assumptions=stated,
        not_ranked=not_ranked,
        jumps=zoom_jumps(usable),
    )


def _shape(bench_file: BenchFile) -> float:
    body = bench_file.body
    return max(body.width_px, body.height_px) / body.picture_height_px


def _sorted_out(
    results: Sequence[SettingResult], bench_file: BenchFile
) -> tuple[list[SettingResult], list[NotRanked]]:
    """Results that can be judged, and reasons for the others."""
    usable: list[SettingResult] = []
    refused: list[NotRanked] = []
    seen = set()
    for result in results:
        s = result.setting
        name = f"{s.lens} at {s.focal_mm:g} mm f/{s.f_number:g}"
        if s in seen:
            raise ValueError(f"{name} on {s.body} was handed in twice; give each setting once")
        seen.add(s)
        reason = _reason_against(result, bench_file)
        if reason is not None:
            refused.append(NotRanked(s.lens, reason, s.focal_mm, s.f_number))
        else:
            usable.append(result)
    return usable, refused


def _reason_against(result: SettingResult, bench_file: BenchFile) -> Note | None:
    """Why a result can't be judged; None where it can."""
    if bench_file.lens(result.setting.lens) is None:
        lenses = tuple(lens.name for lens in bench_file.lenses)
        return Note(NoteCode.LENS_NOT_IN_BENCH_FILE, {"lenses": lenses})
    if result.setting.body != bench_file.body.name:
        bodies = {"body": result.setting.body, "described": bench_file.body.name}
        return Note(NoteCode.OTHER_BODY, bodies)
    if not usable_zones(result):
        flags = {flag for zone in result.zones for flag in zone.flags}
        return Note(NoteCode.NO_SIZE_ANYWHERE, {"flags": tuple(sorted(flags))})
    return None


def _untested(
    bench_file: BenchFile, usable: Sequence[SettingResult], refused: Sequence[NotRanked]
) -> tuple[NotRanked, ...]:
    judged = {result.setting.lens for result in usable}
    return tuple(
        NotRanked(lens.name, Note(NoteCode.NOT_TESTED))
        for lens in bench_file.lenses
        if lens.name not in judged and not any(one.lens == lens.name for one in refused)
    )


def _judged(
    result: SettingResult,
    bench_file: BenchFile,
    limit_percent: float,
    pool: PooledRepeats,
    factors: Sequence[Factor],
) -> Judged:
    """A setting's worth, its score still open."""
    body, setting = bench_file.body, result.setting
    lens = bench_file.lens(setting.lens)
    if lens is None:
        raise ValueError(f"{setting.lens} is not in the bag")
    zones = usable_zones(result)
    blur_px = worst_zone(zones).length_px.bound
    times = longest_times(bench_file.time, body, setting.focal_mm, setting.f_number, blur_px)
    release = bench_file.time.release
    exposure_s = times.dial_true_s if release == "dial" else times.remote_s
    tight = tightness(zones, body, setting.focal_mm, exposure_s, lens.projection)
    light = frame_light(body, lens, setting, exposure_s, bench_file.sky)
    count = star_count(light, zones, body, lens, setting.focal_mm)
    case = SettingLight(body, lens, setting, zones, light, count)
    measured = {factor.code: factor.measure(case) for factor in factors}
    powers = {code: found.powers for code, found in measured.items() if found.powers}
    spreads = zone_spreads(zones, powers, body, setting.lens, pool)
    worth = Worth(
        setting=setting,
        times=times,
        exposure_s=exposure_s,
        release=release,
        iso=light.iso.iso,
        factors={code: found.value for code, found in measured.items()},
        stars_lost_to_cap=count.lost_to_cap,
        lens_tightness_percent=tight.lens_percent,
        lens_tightness_percent_err=tight.lens_percent_err,
        worst_place=tight.worst_place,
        tightness_percent=tight.trailed_percent,
        trail_percent=_centre_trail_percent(bench_file, lens, setting.focal_mm, exposure_s),
        at_limit=tight.at_limit,
        eligible=tight.lens_percent <= limit_percent,
        score=_UNSCORED,
        places_measured=tuple(zone.place for zone in zones),
        notes=_notes(result, tight, count, spreads),
        tightness_interval=_tightness_interval(tight, spreads),
    )
    return Judged(worth, spreads, {code: found.log_err for code, found in measured.items()})


def _tightness_interval(tight: Tightness, spreads: Sequence[ZoneSpread]) -> Interval | None:
    worst = next(zone for zone in spreads if zone.place == tight.worst_place)
    if tight.at_limit or math.isnan(worst.length_log_err):
        return None
    reach = math.exp(t_quantile(worst.degrees_of_freedom) * worst.length_log_err)
    return Interval(tight.lens_percent, tight.lens_percent / reach, tight.lens_percent * reach)


def _centre_trail_percent(
    bench_file: BenchFile, lens: Lens, focal_mm: float, exposure_s: float
) -> float:
    body = bench_file.body
    height_mm = body.picture_height_px * body.pitch_um / 1000
    return float(trail_percent(height_mm, exposure_s, focal_mm, projection=lens.projection))


def _notes(
    result: SettingResult,
    tight: Tightness,
    count: StarCount,
    spreads: Sequence[ZoneSpread],
) -> tuple[Note, ...]:
    """What a reader must know of this setting."""
    notes = [Note(NoteCode.FROM_BENCH, {"text": text}) for text in result.notes]
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
    if count.untested_share > 0:
        radii = [zone.field_radius for zone in zones]
        untested = {
            "untested_percent": 100 * count.untested_share,
            "reach": REACH,
            "radius_least": min(radii),
            "radius_most": max(radii),
        }
        notes.append(Note(NoteCode.FRAME_PARTLY_UNTESTED, untested))
    if count.beyond_counts:
        notes.append(Note(NoteCode.BEYOND_STAR_COUNTS, {"faintest_g": COUNTS_END_G}))
    return tuple(notes)
