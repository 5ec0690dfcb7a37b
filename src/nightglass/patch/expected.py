"""What the bench expects of two pictures as they were made: which score is higher."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from nightglass.patch.made import Made, MadeAs, eye_in
from nightglass.verdict.candidate import Candidate, seen_by
from nightglass.verdict.factors import FACTORS, SettingCase, weights_of
from nightglass.verdict.judge import JudgedBench
from nightglass.verdict.order.pair import stacked
from nightglass.verdict.question import Question
from nightglass.verdict.view.eye import Eye


def expected_gain_percent(
    bench: JudgedBench, candidates: Sequence[Candidate], made: Sequence[Made], eye: Eye
) -> float:
    """Return the score of the first picture over the second, as they were made, less 1 [%].

    Pictures of single frames and stacks answer the question asked of the bench. Beside a panorama
    both show one field at one scale: then the question is that of a patch of sky. Raises
    ValueError for a picture that shows nothing.
    """
    one, other = candidates
    cases = [_case(bench, one, other, made[0], eye), _case(bench, other, one, made[1], eye)]
    factors, weights = bench.asked.factors, bench.asked.weights
    if any(m.made_as is MadeAs.PANORAMA for m in made):
        factors = FACTORS[Question.SKY]
        weights = weights_of(bench.asked.bench.score, factors)
    ratio = 1.0
    for factor in factors:
        first, second = (found.value for found in factor.measure(cases))
        if not min(first, second) > 0:
            raise ValueError("one of the two pictures shows no star: nothing to compare")
        ratio *= (first / second) ** weights[factor.code]
    return 100 * (ratio - 1)


def _case(
    bench: JudgedBench, one: Candidate, other: Candidate, made: Made, eye: Eye
) -> SettingCase:
    case = seen_by(one, eye_in(one, other, made, eye), bench.asked.bench)
    return replace(case, light=stacked(case.light, made.frames))
