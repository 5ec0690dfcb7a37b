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
        return self.scores([case], [own])[0]

    def scores(self, cases: Sequence[SettingCase], own: Sequence[Worth]) -> list[float]:
        """Return the scores of cases, each beside its scored setting."""
        scores = [worth.score.value for worth in own]
        for factor in self.factors:
            for k, (found, worth) in enumerate(zip(factor.measure(cases), own, strict=True)):
                ratio = found.value / worth.factors[factor.code]
                scores[k] *= ratio ** self.weights[factor.code]
        return scores
