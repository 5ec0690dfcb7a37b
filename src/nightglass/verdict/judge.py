"""The whole verdict: from results per setting to a ranking with everything it assumed."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from nightglass.bench.faults.copies import copies_of
from nightglass.bench.records import SettingResult
from nightglass.gear.benchfile import BenchFile
from nightglass.gear.lens import LensSetting
from nightglass.light.falloff import PupilFalloff
from nightglass.verdict.asked import Asked
from nightglass.verdict.assumptions import assumptions
from nightglass.verdict.blur import usable_zones
from nightglass.verdict.candidate import (
    Candidate,
    candidate_of,
    seen_by,
    sky_per_eye_arcmin,
    with_patch_of_sky,
)
from nightglass.verdict.certainty.order_frequency import TRIALS, leading, order_frequency
from nightglass.verdict.certainty.repeats import pool_repeats
from nightglass.verdict.certainty.sensitivity import order_changers
from nightglass.verdict.codes import Note, NoteCode, NotRanked
from nightglass.verdict.factors import FACTORS, Weights, weights_of
from nightglass.verdict.order.best_setting import with_neighbours
from nightglass.verdict.order.frontier import unbeaten
from nightglass.verdict.order.ranking import best_of_each_lens, standings
from nightglass.verdict.order.zoom_jumps import zoom_jumps
from nightglass.verdict.purpose import PURPOSES, eye_of, eye_of_purpose, frame_shape_of
from nightglass.verdict.question import Question
from nightglass.verdict.records import Ranking
from nightglass.verdict.score import Judged, log_worth, pick_reference, score_of, with_scores
from nightglass.verdict.view.eye import Eye
from nightglass.verdict.worth import FactorTable, eye_moves, judged, with_eyes


@dataclass(frozen=True)
class JudgedBench:
    """Every setting of a bench with its score, and what it was worked out from."""

    scored: tuple[Judged, ...]
    """The best first."""
    candidates: Mapping[LensSetting, Candidate]
    reference: LensSetting
    asked: Asked
    eyes: tuple[Eye, ...]
    """Of phone, screen and print."""


def judge(
    results: Sequence[SettingResult],
    bench: BenchFile,
    question: Question = Question.PICTURE,
    trials: int = TRIALS,
    factors: FactorTable = FACTORS,
    falloffs: Mapping[LensSetting, PupilFalloff] | None = None,
) -> Ranking:
    """Return the ranking of lenses, given the results of all settings on record.

    bench: body, lenses and what the person chose; whatever it leaves open is a default and stands
    in `assumptions`. What can't be judged stands in `not_ranked` with the reason; without any
    result the ranking is empty. trials: for "how often the order holds". factors: of the score,
    for both questions. falloffs: those measured, by setting. Raises ValueError for weights that
    don't share 1, a purpose that has no meaning, a reference that was not measured, or a setting
    that was handed in twice.
    """
    eye, weights = eye_of_purpose(bench.purpose, frame_shape_of(bench)), _weights(bench, factors)
    usable, refused = _sorted_out(results, bench)
    not_ranked = (*refused, *_untested(bench, usable, refused))
    pool = pool_repeats(usable)
    sessions = min((result.sessions for result in usable), default=1)
    if not usable:
        stated = assumptions(bench, eye, (), pool, weights[question], sessions)
        return Ranking((), (), (), None, question, eye, bench.limit, None, stated, not_ranked)
    found = judge_settings(usable, bench, question, factors, falloffs)
    asked, eyes = found.asked, found.eyes
    ranked = standings(best_of_each_lens(found.scored), asked.weights)
    scored = _with_viewers(found.scored, found.candidates, asked, eyes)
    worths = tuple(item.worth for item in scored)
    stated = assumptions(bench, eye, worths, pool, asked.weights, sessions)
    copies = copies_of(usable, bench.body)
    placed = tuple(with_neighbours(s, scored, found.candidates, asked, copies) for s in ranked)
    return Ranking(
        standings=placed,
        worths=tuple(sorted(worths, key=lambda worth: worth.setting)),
        unbeaten=unbeaten(worths),
        reference=found.reference,
        question=question,
        eye=eye,
        limit=bench.limit,
        order_frequency=order_frequency(
            scored, ranked, asked.factors, [math.log(e.eye_percent) for e in eyes], bench.limit,
            trials,
        ),
        assumptions=order_changers(stated, placed, scored, found.candidates, asked),
        not_ranked=not_ranked,
        jumps=zoom_jumps(usable),
    )  # fmt: skip


def judge_settings(
    results: Sequence[SettingResult],
    bench: BenchFile,
    question: Question = Question.PICTURE,
    factors: FactorTable = FACTORS,
    falloffs: Mapping[LensSetting, PupilFalloff] | None = None,
) -> JudgedBench:
    """Return every setting with its score, the best first. Errors as for judge; ValueError where
    no result can be judged."""
    usable, _ = _sorted_out(results, bench)
    shape, weights = frame_shape_of(bench), _weights(bench, factors)
    eye, pool = eye_of_purpose(bench.purpose, shape), pool_repeats(usable)
    candidates = _candidates(usable, bench, eye, weights[Question.PICTURE], factors, falloffs or {})
    eyes = tuple(eye_of(words, shape) for words in PURPOSES)
    settled = judged(tuple(candidates.values()), bench, pool, factors, eyes)
    scored, reference = _scored(settled, bench, question, weights)
    asked = Asked(bench, question, factors[question], weights[question])
    return JudgedBench(tuple(scored), candidates, reference.worth.setting, asked, eyes)


def _weights(bench: BenchFile, factors: FactorTable) -> dict[Question, Weights]:
    return {q: weights_of(bench.score, table) for q, table in factors.items()}


def _candidates(
    usable: Sequence[SettingResult],
    bench: BenchFile,
    eye: Eye,
    weights: Weights,
    factors: FactorTable,
    falloffs: Mapping[LensSetting, PupilFalloff],
) -> dict[LensSetting, Candidate]:
    """Candidates by setting, for both questions.

    Pictures of the patch of sky are shown at the scale at which the reference's picture shows it:
    the one named, else the best of the picture question.
    """
    if not usable:
        raise ValueError("nothing was measured that can be judged; run nightglass measure first")
    found = {
        result.setting: candidate_of(result, bench, eye, falloffs.get(result.setting))
        for result in usable
    }
    reference = found.get(bench.score.reference) if bench.score.reference else None
    if reference is None:
        reference = _best_picture(tuple(found.values()), weights, factors)
    arcmin = sky_per_eye_arcmin(reference, bench)
    return {setting: with_patch_of_sky(one, bench, arcmin) for setting, one in found.items()}


def _best_picture(
    candidates: Sequence[Candidate], weights: Weights, factors: FactorTable
) -> Candidate:
    logs, cases = [0.0] * len(candidates), [one.cases[Question.PICTURE] for one in candidates]
    for factor in factors[Question.PICTURE]:
        for k, found in enumerate(factor.measure(cases)):
            log = math.log(found.value) if found.value > 0 else -math.inf
            logs[k] += weights[factor.code] * log
    order = [(-log, one.result.setting) for log, one in zip(logs, candidates, strict=True)]
    return candidates[order.index(min(order))]


def _scored(
    settled: Sequence[Judged],
    bench: BenchFile,
    question: Question,
    weights: Mapping[Question, Weights],
) -> tuple[list[Judged], Judged]:
    """Scores of both questions, the best first, and the reference of the question asked."""
    named = bench.score.reference
    other = pick_reference(settled, weights[question.other], named)
    settled = [
        replace(
            item,
            worth=replace(
                item.worth,
                other_score=score_of(item.worth, other.worth, weights[question.other]),
            ),
        )
        for item in settled
    ]
    reference = pick_reference(settled, weights[question], named)
    scored = with_scores(settled, reference, weights[question])
    return sorted(scored, key=lambda i: -log_worth(i.worth, weights[question])), reference


def _with_viewers(
    scored: Sequence[Judged],
    candidates: Mapping[LensSetting, Candidate],
    asked: Asked,
    eyes: Sequence[Eye],
) -> list[Judged]:
    """The leading settings with what other viewers make of them."""
    led = {item.worth.setting for item in leading(scored)}
    return [
        _with_eyes_of(item, candidates[item.worth.setting], asked, eyes)
        if item.worth.setting in led
        else item
        for item in scored
    ]


def _with_eyes_of(item: Judged, one: Candidate, asked: Asked, eyes: Sequence[Eye]) -> Judged:
    case = one.cases[asked.question]
    picture_percent = one.cases[Question.PICTURE].spots.eye.eye_percent
    cases = []
    for eye in eyes:
        # A patch of sky is shown at another scale, for every viewer alike.
        percent = case.spots.eye.eye_percent * eye.eye_percent / picture_percent
        own = math.isclose(eye.eye_percent, picture_percent, rel_tol=1e-9)
        cases.append(case if own else seen_by(one, replace(eye, eye_percent=percent), asked.bench))
    return with_eyes(item, eye_moves(case, cases, asked.factors))


def _sorted_out(
    results: Sequence[SettingResult], bench: BenchFile
) -> tuple[list[SettingResult], list[NotRanked]]:
    """Results that can be judged, and reasons for the others."""
    usable: list[SettingResult] = []
    refused: list[NotRanked] = []
    seen = set()
    for result in results:
        s = result.setting
        if s in seen:
            raise ValueError(
                f"{s.lens} at {s.focal_mm:g} mm f/{s.f_number:g} on {s.body} was handed in twice; "
                "give each setting once"
            )
        seen.add(s)
        reason = _reason_against(result, bench)
        if reason is not None:
            refused.append(NotRanked(s.lens, reason, s.focal_mm, s.f_number))
        else:
            usable.append(result)
    return usable, refused


def _reason_against(result: SettingResult, bench: BenchFile) -> Note | None:
    """Why a result can't be judged; None where it can."""
    if bench.lens(result.setting.lens) is None:
        lenses = tuple(lens.name for lens in bench.lenses)
        return Note(NoteCode.LENS_NOT_IN_BENCH_FILE, {"lenses": lenses})
    if result.setting.body != bench.body.name:
        bodies = {"body": result.setting.body, "described": bench.body.name}
        return Note(NoteCode.OTHER_BODY, bodies)
    if not usable_zones(result):
        flags = {flag for zone in result.zones for flag in zone.flags}
        return Note(NoteCode.NO_SIZE_ANYWHERE, {"flags": tuple(sorted(flags))})
    return None


def _untested(
    bench: BenchFile, usable: Sequence[SettingResult], refused: Sequence[NotRanked]
) -> tuple[NotRanked, ...]:
    known = {result.setting.lens for result in usable}
    return tuple(
        NotRanked(lens.name, Note(NoteCode.NOT_TESTED))
        for lens in bench.lenses
        if lens.name not in known and not any(one.lens == lens.name for one in refused)
    )
