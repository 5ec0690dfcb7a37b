"""The factors of the score as data: one table, from which everything about the score is made.

Score, reference, ranking, intervals, order frequency, assumptions and tables all walk this table.
A new factor costs one entry here, and its words in nightglass.show.ranking.factor_words where the
code alone does not say enough.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from nightglass.bench.records import ZoneResult
from nightglass.gear.benchfile import ScoreChoice
from nightglass.gear.body import Body
from nightglass.gear.lens import Lens, LensSetting
from nightglass.verdict.worth import FrameLight, StarCount, glow

Weights = Mapping[str, float]
"""The power of each factor in the score, by code."""


@dataclass(frozen=True)
class SettingLight:
    """One setting at its longest allowed time: what a factor is worked out from."""

    body: Body
    lens: Lens
    setting: LensSetting
    zones: tuple[ZoneResult, ...]
    """Those with a length."""
    light: FrameLight
    count: StarCount


@dataclass(frozen=True)
class FactorValue:
    """A factor of one setting, and what moves it."""

    value: float
    powers: tuple[float, ...] = ()
    """d ln(value) / d ln(noise area of the untrailed spot), one per zone; empty: no zone's blur
    moves it."""
    log_err: float = 0.0
    """1-sigma error of ln(value) beside the scatter of repeats; 0 where there is none."""


@dataclass(frozen=True)
class Factor:
    """One factor of the score."""

    code: str
    weight_key: str
    """The weight's name in bench.toml under [score]."""
    weight: Callable[[ScoreChoice], float]
    """The power of the factor in the score: 0 to 1."""
    measure: Callable[[SettingLight], FactorValue]
    tried_weights: tuple[float, float]
    """The ends between which "how often the order holds" draws the weight. All factors share one
    draw, so that one factor's weight can fall while another's rises."""


FACTORS: tuple[Factor, ...] = (
    Factor(
        code="stars",
        weight_key="a",
        weight=lambda choice: choice.a,
        measure=lambda case: FactorValue(case.count.stars, case.count.powers),
        tried_weights=(0.25, 0.75),
    ),
    Factor(
        code="glow",
        weight_key="b",
        weight=lambda choice: choice.b,
        measure=lambda case: FactorValue(glow(case.light, case.body)),
        tried_weights=(0.75, 0.25),
    ),
)


def weights_of(choice: ScoreChoice, factors: Sequence[Factor] = FACTORS) -> Weights:
    """Return the weight of each factor, as the person chose.

    Raises ValueError unless all weights are from 0 to 1 and one is above 0.
    """
    for factor in factors:
        value = factor.weight(choice)
        if not 0 <= value <= 1:
            raise ValueError(
                f"{factor.weight_key} is {value:g}; the weight of the {factor.code} is allowed "
                "from 0 to 1, 0.5 unless you care more for the one than for the other"
            )
    weights = {factor.code: factor.weight(choice) for factor in factors}
    if not any(weights.values()):
        keys = [factor.weight_key for factor in factors]
        advice = " and ".join(f"{key} = 0.5" for key in keys)
        zero = "are both 0" if len(keys) == 2 else "are all 0"
        raise ValueError(f"{' and '.join(keys)} {zero}: nothing would count; set {advice}")
    return weights
