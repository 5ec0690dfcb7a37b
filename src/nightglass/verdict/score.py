"""Score: the factors against a reference, each with its power."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from nightglass.gear.lens import LensSetting
from nightglass.verdict.factors import Weights
from nightglass.verdict.records import Interval, Worth
from nightglass.verdict.spread import LogInterval, ZoneSpread, difference_interval


@dataclass(frozen=True)
class Judged:
    """A setting's worth, with how far the repeats of its zones move it."""

    worth: Worth
    zones: tuple[ZoneSpread, ...]
    log_errs: Mapping[str, float] = field(default_factory=dict)
    """1-sigma errors of ln(factor) beside the scatter of repeats, by code; 0 where not named."""


def score_of(item: Worth, reference: Worth, weights: Weights) -> float:
    """Return 100 times the product of (factor / factor of the reference)^weight.

    Raises ValueError for a reference that records nothing of a factor.
    """
    if not all(reference.factors[code] > 0 for code in weights):
        raise ValueError(
            f"the reference {reference.setting.lens} at f/{reference.setting.f_number:g} records "
            f"no {' or no '.join(weights)}; name another reference in [score]"
        )
    score = 100.0
    for code, weight in weights.items():
        score *= (item.factors[code] / reference.factors[code]) ** weight
    return score


def pick_reference(
    judged: Sequence[Judged], weights: Weights, named: LensSetting | None = None
) -> Judged:
    """Return the setting that stands at 100: the one named, else the best eligible one.

    Without an eligible setting: the tightest. Raises ValueError without settings, or when the
    named one was not measured.
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
    eligible = [item for item in judged if item.worth.eligible]
    if not eligible:
        return min(judged, key=lambda item: (item.worth.lens_tightness_percent, _key(item)))
    return min(eligible, key=lambda item: (-log_worth(item.worth, weights), _key(item)))


def with_scores(judged: Sequence[Judged], reference: Judged, weights: Weights) -> list[Judged]:
    """Return the settings with their scores and 95 % intervals against the reference."""
    return [replace(item, worth=_scored(item, reference, weights)) for item in judged]


def score_spread(
    upper: Judged, lower: Judged, weights: Weights, compared: int = 2
) -> LogInterval | None:
    """Return the 95 % interval of ln(score of upper / score of lower) about its value.

    compared: how many settings the pair was chosen from.
    """
    apart = sum(
        (weight * item.log_errs.get(code, 0.0)) ** 2
        for item in (upper, lower)
        for code, weight in weights.items()
    )
    return difference_interval(upper.zones, lower.zones, weights, compared, apart)


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


def _key(item: Judged) -> LensSetting:
    return item.worth.setting


def _words(setting: LensSetting) -> str:
    return f"{setting.lens} at {setting.focal_mm:g} mm f/{setting.f_number:g}"
