"""The factors of the score as data: one table for each question, from which all else is made.

Score, reference, ranking, intervals, order frequency, assumptions and tables all walk this table.
A new factor costs one entry here, and its words in nightglass.show.ranking.factor_words where the
code alone does not say enough.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from nightglass.gear.benchfile import ScoreChoice
from nightglass.gear.body import Body
from nightglass.gear.lens import LensSetting
from nightglass.verdict.frame_light import FrameLight
from nightglass.verdict.question import Question
from nightglass.verdict.view.glow import glows_in_view, glows_on_sky
from nightglass.verdict.view.seen import StarsSeen, ViewedSpots, stars_in_views

Weights = Mapping[str, float]
"""The power of each factor in the score, by code."""


@dataclass(frozen=True)
class SettingCase:
    """One setting at its longest allowed time, as one eye sees it: what factors are made from."""

    body: Body
    setting: LensSetting
    light: FrameLight
    spots: ViewedSpots


@dataclass(frozen=True)
class FactorValue:
    """A factor of one setting, and how the repeats of its zones move it."""

    value: float
    powers: tuple[float, ...] = ()
    """d ln(value) / d ln(noise area of the untrailed spot), one per zone; empty: no zone's blur
    moves it."""
    log_err: float = 0.0
    """1-sigma error of ln(value) of its own, beside repeats and light."""


@dataclass(frozen=True)
class Factor:
    """One factor of the score."""

    code: str
    weight: Callable[[ScoreChoice], float]
    """The power of the factor in the score: 0 to 2."""
    measure: Callable[[Sequence[SettingCase]], Sequence[FactorValue]]
    """Of several settings of one body at once; `each` makes it of a function of one."""
    tried_weights: tuple[float, float]
    """The ends between which the order frequency draws the power. All factors share one draw, so
    that one factor's power can fall while another's rises."""


def each(
    measure: Callable[[SettingCase], FactorValue],
) -> Callable[[Sequence[SettingCase]], Sequence[FactorValue]]:
    """Return the measure of several settings, one after another, by that of one."""
    return lambda cases: [measure(case) for case in cases]


def seen_in(cases: Sequence[SettingCase]) -> list[StarsSeen]:
    """Return the stars seen in pictures of one body."""
    return stars_in_views([(c.light, c.spots) for c in cases], cases[0].body) if cases else []


def _stars(cases: Sequence[SettingCase]) -> list[FactorValue]:
    return [FactorValue(seen.stars, seen.powers) for seen in seen_in(cases)]


def _stars_on_sky(cases: Sequence[SettingCase]) -> list[FactorValue]:
    return [
        FactorValue(seen.per_thousand_square_degrees if seen.stars > 0 else 0.0, seen.powers)
        for seen in seen_in(cases)
    ]


def _glow(cases: Sequence[SettingCase]) -> list[FactorValue]:
    found = glows_in_view([case.light for case in cases], cases[0].body) if cases else []
    return [FactorValue(glow) for glow in found]


def _glow_on_sky(cases: Sequence[SettingCase]) -> list[FactorValue]:
    found = glows_on_sky([case.light for case in cases], cases[0].body) if cases else []
    return [FactorValue(glow) for glow in found]


def _stars_power(choice: ScoreChoice) -> float:
    return 2 * choice.a


def _glow_power(choice: ScoreChoice) -> float:
    return 2 * choice.b


FACTORS: Mapping[Question, tuple[Factor, ...]] = {
    Question.PICTURE: (
        Factor("stars", _stars_power, _stars, (0.5, 1.5)),
        Factor("glow", _glow_power, _glow, (1.5, 0.5)),
    ),
    Question.SKY: (
        Factor("stars_on_sky", _stars_power, _stars_on_sky, (0.5, 1.5)),
        Factor("glow_on_sky", _glow_power, _glow_on_sky, (1.5, 0.5)),
    ),
}


def weights_of(choice: ScoreChoice, factors: Sequence[Factor]) -> Weights:
    """Return the power of each factor in the score, as the person chose.

    Raises ValueError unless a and b are from 0 to 1 and add up to 1.
    """
    if not (0 <= choice.a <= 1 and 0 <= choice.b <= 1 and abs(choice.a + choice.b - 1) < 1e-9):
        raise ValueError(
            f"a is {choice.a:g} and b is {choice.b:g}; the weights of stars and glow are from 0 to "
            "1 and add up to 1: give a alone, 0.5 unless you care more for the one"
        )
    return {factor.code: factor.weight(choice) for factor in factors}
