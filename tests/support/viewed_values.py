"""What one question counts of a setting, with the score from two of them: for closed formulas."""

from __future__ import annotations

from dataclasses import dataclass

from nightglass.gear.benchfile import ScoreChoice
from nightglass.gear.lens import LensSetting
from nightglass.verdict.factors import FACTORS, SettingCase, weights_of
from nightglass.verdict.question import Question
from nightglass.verdict.view.seen import StarsSeen, ViewedSpots, stars_in_view, viewed_spots


@dataclass(frozen=True)
class Value:
    """Factors of one question, through the table that the verdict walks."""

    question: Question
    stars: float
    glow: float
    seen: StarsSeen
    spots: ViewedSpots


def value(light, zones, body, eye, question=Question.PICTURE) -> Value:
    spots = viewed_spots(light, zones, body, eye)
    case = SettingCase(body, LensSetting(body.name, "any", 20, 2.8), light, spots)
    stars, glow = (factor.measure([case])[0].value for factor in FACTORS[question])
    return Value(question, stars, glow, stars_in_view(light, spots, body), spots)


def score(item: Value, reference: Value, a: float = 0.5) -> float:
    stars, glow = weights_of(ScoreChoice(a, 1 - a), FACTORS[item.question]).values()
    return 100 * (item.stars / reference.stars) ** stars * (item.glow / reference.glow) ** glow
