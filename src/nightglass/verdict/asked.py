"""The question that a ranking answers, with all that decides the score."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from nightglass.gear.benchfile import BenchFile
from nightglass.gear.lens import LensSetting
from nightglass.verdict.factors import Factor, SettingCase, Weights
from nightglass.verdict.question import Question
from nightglass.verdict.records import Worth

Ratios = dict[tuple[str, int, LensSetting], Mapping[str, float]]
"""Factors under a changed assumption over those without, by code: of the assumption, which of its
changes, and the setting."""


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
        ratios = self.ratios(cases, own)
        return [self.rescored(worth, one) for worth, one in zip(own, ratios, strict=True)]

    def ratios(
        self, cases: Sequence[SettingCase], own: Sequence[Worth]
    ) -> list[Mapping[str, float]]:
        """Return the factors of cases over those of their own settings, by code: the same for all
        weights."""
        found: list[dict[str, float]] = [{} for _ in cases]
        for factor in self.factors:
            for k, value in enumerate(factor.measure(cases)):
                found[k][factor.code] = value.value / own[k].factors[factor.code]
        return list(found)

    def rescored(self, own: Worth, ratios: Mapping[str, float]) -> float:
        """Return the score of a setting whose factors changed by some ratios."""
        score = own.score.value
        for code, ratio in ratios.items():
            score *= ratio ** self.weights[code]
        return score
