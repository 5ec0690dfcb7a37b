"""Score: the factors against a reference, each with its power."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from nightglass.gear.lens import LensSetting
from nightglass.verdict.certainty.spread import Apart, LogInterval, ZoneSpread, difference_interval
from nightglass.verdict.factors import Weights
from nightglass.verdict.records import Interval, Worth


@dataclass(frozen=True)
class LightMoves:
    """How far the light's uncertainty moves ln(factor) of a setting."""

    transmission: float = 0.0
    """For 1 sigma more light through the glass; all settings of a lens move together."""
    darker: float = 0.0
    """For corners darker by 1 sigma: 0 or less."""
    own_err: float = 0.0
    """1-sigma error of ln(factor) of its own."""
    common: float = 0.0
    """For 1 sigma more light through all lenses that flats held against each other."""


@dataclass(frozen=True)
class Judged:
    """A setting's worth, and how far repeats, light and the viewer move it."""

    worth: Worth
    zones: tuple[ZoneSpread, ...]
    moves: Mapping[str, LightMoves] = field(default_factory=dict)
    """By the factor's code."""
    eyes: Mapping[str, tuple[float, ...]] = field(default_factory=dict)
    """ln(factor) at the eyes that the order frequency tries, less that of the eye asked for; by
    code, empty where it was not worked out."""


def score_of(item: Worth, reference: Worth, weights: Weights) -> float:
    """Return 100 times the product of (factor / factor of the reference)^weight.

    Raises ValueError for a reference that shows nothing of a factor.
    """
    if not all(reference.factors[code] > 0 for code in weights):
        raise ValueError(
            f"the reference {reference.setting.lens} at f/{reference.setting.f_number:g} shows no "
            "stars or no glow; name another reference in [score]"
        )
    score = 100.0
    for code, weight in weights.items():
        score *= (item.factors[code] / reference.factors[code]) ** weight
    return score


def pick_reference(
    judged: Sequence[Judged], weights: Weights, named: LensSetting | None = None
) -> Judged:
    """Return the setting that stands at 100: the one named, else the best within the limit.

    Where none is within the limit, the best of all. Raises ValueError without settings, or when
    the named one was not measured.
    """
    if not judged:
        raise ValueError("no setting was measured, so there is nothing to compare with")
    if named is not None:
        for item in judged:
            if item.worth.setting == named:
                return item
        measured = sorted({_words(item.worth.setting) for item in judged})
        raise ValueError(
            f"the reference {_words(named)} was not measured; measured are: {'; '.join(measured)}"
        )
    eligible = [item for item in judged if item.worth.eligible] or judged
    return min(eligible, key=lambda item: (-log_worth(item.worth, weights), item.worth.setting))


def with_scores(judged: Sequence[Judged], reference: Judged, weights: Weights) -> list[Judged]:
    """Return the settings with their scores and 95 % intervals against the reference."""
    return [replace(item, worth=_scored(item, reference, weights)) for item in judged]


def score_spread(
    upper: Judged, lower: Judged, weights: Weights, compared: int = 2
) -> LogInterval | None:
    """Return the 95 % interval of ln(score of upper / score of lower) about its value.

    compared: how many settings the pair was chosen from. Settings of one lens share its glass, so
    that its transmission falls out between them but for the difference of their powers; what a
    lens loses toward its corners depends on the f-number and is counted for each setting alone.
    What flats leave open of all lenses together falls out between two of them in the same way.
    """
    one, other = moved(upper, weights), moved(lower, weights)
    own = one.own_err**2 + other.own_err**2
    if _glass(upper) == _glass(lower):
        both = (one.transmission - other.transmission) ** 2
    else:
        both = one.transmission**2 + other.transmission**2
    both += (one.common - other.common) ** 2
    apart = Apart(both + own, one.darker**2, other.darker**2)
    return difference_interval(upper.zones, lower.zones, weights, compared, apart)


def moved(item: Judged, weights: Weights) -> LightMoves:
    """Return how far the light's uncertainty moves ln(score)."""
    none = LightMoves()
    return LightMoves(
        sum(w * item.moves.get(code, none).transmission for code, w in weights.items()),
        sum(w * item.moves.get(code, none).darker for code, w in weights.items()),
        math.hypot(*(w * item.moves.get(code, none).own_err for code, w in weights.items())),
        sum(w * item.moves.get(code, none).common for code, w in weights.items()),
    )


def log_worth(item: Worth, weights: Weights) -> float:
    """Return the weighted sum of ln(factor), by which settings are ordered; -inf if a factor
    that counts is 0."""
    total = 0.0
    for code, weight in weights.items():
        value = item.factors[code]
        if weight > 0:
            total += weight * math.log(value) if value > 0 else -math.inf
    return total


def _scored(item: Judged, reference: Judged, weights: Weights) -> Worth:
    value = score_of(item.worth, reference.worth, weights)
    if item is reference:
        return replace(item.worth, score=Interval(100.0, 100.0, 100.0))
    spread = score_spread(item, reference, weights)
    if spread is None:
        return replace(item.worth, score=Interval(value, None, None))
    low, high = value * math.exp(spread.low), value * math.exp(spread.high)
    return replace(item.worth, score=Interval(value, low, high))


def _glass(item: Judged) -> tuple[str, str]:
    return item.worth.setting.body, item.worth.setting.lens


def _words(setting: LensSetting) -> str:
    return f"{setting.lens} at {setting.focal_mm:g} mm f/{setting.f_number:g}"
