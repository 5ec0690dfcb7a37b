"""Score: stars and glow against a reference, each with its power."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from nightglass.gear.benchfile import ScoreChoice
from nightglass.gear.lens import LensSetting
from nightglass.verdict.records import Interval, Worth
from nightglass.verdict.spread import LogInterval, ZoneSpread, difference_interval


@dataclass(frozen=True)
class Judged:
    """A setting's worth, with how far the repeats of its zones move it."""

    worth: Worth
    zones: tuple[ZoneSpread, ...]


def check_weights(a: float, b: float) -> None:
    """Raise ValueError unless both weights are from 0 to 1 and one is above 0."""
    for name, value, of in (("a", a, "stars"), ("b", b, "glow")):
        if not 0 <= value <= 1:
            raise ValueError(
                f"{name} is {value:g}; the weight of the {of} is allowed from 0 to 1, 0.5 unless "
                "you care more for the one than for the other"
            )
    if a + b == 0:
        raise ValueError("a and b are both 0: nothing would count; set a = 0.5 and b = 0.5")


def score_of(item: Worth, reference: Worth, a: float, b: float) -> float:
    """Return 100 x (stars / stars of the reference)^a x (glow / glow of the reference)^b.

    Raises ValueError for weights outside 0 to 1 or a reference that records nothing.
    """
    check_weights(a, b)
    if not (reference.stars > 0 and reference.glow > 0):
        raise ValueError(
            f"the reference {reference.setting.lens} at f/{reference.setting.f_number:g} records "
            "no stars or no glow; name another reference in [score]"
        )
    return 100 * (item.stars / reference.stars) ** a * (item.glow / reference.glow) ** b


def pick_reference(
    judged: Sequence[Judged], choice: ScoreChoice, named: LensSetting | None = None
) -> Judged:
    """Return the setting that stands at 100: the one named, else the best eligible one.

    Without an eligible setting: the tightest. Raises ValueError without settings, or when the
    named one was not measured.
    """
    if not judged:
        raise ValueError("no setting was measured, so there is nothing to compare with")
    named = named or choice.reference
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
    check_weights(choice.a, choice.b)
    return min(eligible, key=lambda item: (-log_worth(item.worth, choice.a, choice.b), _key(item)))


def with_scores(judged: Sequence[Judged], reference: Judged, a: float, b: float) -> list[Judged]:
    """Return the settings with their scores and 95 % intervals against the reference."""
    return [replace(item, worth=_scored(item, reference, a, b)) for item in judged]


def score_spread(upper: Judged, lower: Judged, a: float, compared: int = 2) -> LogInterval | None:
    """Return the 95 % interval of ln(score of upper / score of lower) about its value.

    Only the stars scatter from repeat to repeat: glow is light without shape. compared: how many
    settings the pair was chosen from.
    """
    return difference_interval(upper.zones, lower.zones, a, compared)


def log_worth(item: Worth, a: float, b: float) -> float:
    """Return a ln(stars) + b ln(glow), by which settings are ordered; -inf if nothing is seen."""
    total = 0.0
    for weight, value in ((a, item.stars), (b, item.glow)):
        if weight > 0:
            total += weight * math.log(value) if value > 0 else -math.inf
    return total


def _scored(item: Judged, reference: Judged, a: float, b: float) -> Worth:
    value = score_of(item.worth, reference.worth, a, b)
    if item is reference:
        return replace(item.worth, score=Interval(100.0, 100.0, 100.0))
    spread = score_spread(item, reference, a)
    if spread is None:
        return replace(item.worth, score=Interval(value, None, None))
    low, high = value * math.exp(spread.low), value * math.exp(spread.high)
    return replace(item.worth, score=Interval(value, low, high))


def _key(item: Judged) -> LensSetting:
    return item.worth.setting


def _words(setting: LensSetting) -> str:
    return f"{setting.lens} at {setting.focal_mm:g} mm f/{setting.f_number:g}"
