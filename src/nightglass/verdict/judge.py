"""The whole verdict: from results per setting to a ranking with everything it assumed."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from nightglass.bench.records import SettingResult
from nightglass.gear.benchfile import BenchFile, LimitChoice, ScoreChoice
from nightglass.gear.lens import LensSetting
from nightglass.light.falloff import PupilFalloff
from nightglass.verdict.asked import Asked
from nightglass.verdict.assumptions import assumptions
from nightglass.verdict.candidate import Candidate
from nightglass.verdict.certainty.order_frequency import TRIALS, leading, order_frequency
from nightglass.verdict.certainty.sensitivity import order_changers
from nightglass.verdict.codes import Note, NoteCode, NotRanked
from nightglass.verdict.factors import FACTORS, Weights, weights_of
from nightglass.verdict.groundwork import Groundwork
from nightglass.verdict.order.best_setting import with_neighbours
from nightglass.verdict.order.frontier import unbeaten
from nightglass.verdict.order.ranking import best_of_each_lens, standings
from nightglass.verdict.question import Question
from nightglass.verdict.records import Ranking
from nightglass.verdict.score import Judged, log_worth, pick_reference, score_of, with_scores
from nightglass.verdict.settled import Settled
from nightglass.verdict.view.eye import Eye
from nightglass.verdict.worth import FactorTable, with_eyes, with_limit


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
    ground = Groundwork(results, bench, factors, falloffs)
    return judge_on(ground, bench.score, bench.limit, question, trials)


def judge_on(
    ground: Groundwork,
    score: ScoreChoice,
    limit: LimitChoice | None,
    question: Question = Question.PICTURE,
    trials: int = TRIALS,
) -> Ranking:
    """Return the ranking of lenses for weights, reference and limit, on what was worked out before
    of the same bench. Errors as for judge."""
    bench = replace(ground.bench, score=score, limit=limit)
    weights = _weights(bench, ground.factors)
    not_ranked = (*ground.refused, *_untested(bench, ground.usable, ground.refused))
    sessions = min((result.sessions for result in ground.usable), default=1)
    if not ground.usable:
        stated = assumptions(bench, ground.eye, (), ground.pool, weights[question], sessions)
        return Ranking((), (), (), None, question, ground.eye, limit, None, stated, not_ranked)
    found, settled = _judged_on(ground, bench, question, weights)
    asked, eyes = found.asked, found.eyes
    ranked = standings(best_of_each_lens(found.scored), asked.weights)
    scored = _with_viewers(found.scored, ground, settled, asked)
    worths = tuple(item.worth for item in scored)
    stated = assumptions(bench, ground.eye, worths, ground.pool, asked.weights, sessions)
    placed = tuple(
        with_neighbours(s, scored, found.candidates, asked, ground.copies) for s in ranked
    )
    return Ranking(
        standings=placed,
        worths=tuple(sorted(worths, key=lambda worth: worth.setting)),
        unbeaten=unbeaten(worths),
        reference=found.reference,
        question=question,
        eye=ground.eye,
        limit=limit,
        order_frequency=order_frequency(
            scored, ranked, asked.factors, [math.log(e.eye_percent) for e in eyes], limit, trials
        ),
        assumptions=order_changers(stated, placed, scored, settled, asked),
        not_ranked=not_ranked,
        jumps=ground.jumps,
    )


def judge_settings(
    results: Sequence[SettingResult],
    bench: BenchFile,
    question: Question = Question.PICTURE,
    factors: FactorTable = FACTORS,
    falloffs: Mapping[LensSetting, PupilFalloff] | None = None,
) -> JudgedBench:
    """Return every setting with its score, the best first. Errors as for judge; ValueError where
    no result can be judged."""
    ground = Groundwork(results, bench, factors, falloffs)
    return _judged_on(ground, bench, question, _weights(bench, factors))[0]


def _judged_on(
    ground: Groundwork, bench: BenchFile, question: Question, weights: Mapping[Question, Weights]
) -> tuple[JudgedBench, Settled]:
    settled = ground.settled(weights[Question.PICTURE], bench.score.reference)
    items = [with_limit(item, bench.limit) for item in settled.judged]
    scored, reference = _scored(items, bench, question, weights)
    asked = Asked(bench, question, ground.factors[question], weights[question])
    setting = reference.worth.setting
    return JudgedBench(tuple(scored), settled.candidates, setting, asked, ground.eyes), settled


def _weights(bench: BenchFile, factors: FactorTable) -> dict[Question, Weights]:
    return {q: weights_of(bench.score, table) for q, table in factors.items()}


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
    scored: Sequence[Judged], ground: Groundwork, settled: Settled, asked: Asked
) -> list[Judged]:
    """The leading settings with what other viewers make of them."""
    led = {item.worth.setting for item in leading(scored)}
    return [
        with_eyes(item, ground.seen_by_viewers(item.worth.setting, settled, asked))
        if item.worth.setting in led
        else item
        for item in scored
    ]


def _untested(
    bench: BenchFile, usable: Sequence[SettingResult], refused: Sequence[NotRanked]
) -> tuple[NotRanked, ...]:
    known = {result.setting.lens for result in usable}
    return tuple(
        NotRanked(lens.name, Note(NoteCode.NOT_TESTED))
        for lens in bench.lenses
        if lens.name not in known and not any(one.lens == lens.name for one in refused)
    )
