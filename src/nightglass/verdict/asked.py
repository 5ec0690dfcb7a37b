"""The question that a ranking answers, with all that decides the score."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from nightglass.gear.benchfile import BenchFile
from nightglass.verdict.factors import Factor, SettingCase, Weights
from nightglass.verdict.question import Question
from nightglass.verdict.records import Worth


@dataclass(frozen=True)
class Asked:
    """The question asked, its factors with their powers, and the bench that answers."""

    bench: BenchFile
    question: Question
    factors: Sequence[Factor]
    weights: Weights

    def score(self, case: SettingCase, own: Worth) -> float:
        """Return the score of a case beside a scored setting."""
        score = own.score.value
        for factor in self.factors:
            ratio = factor.measure(case).value / own.factors[factor.code]
            score *= ratio ** self.weights[factor.code]
        return score
