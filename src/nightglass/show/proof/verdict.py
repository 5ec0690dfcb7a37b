"""The verdict of a proof and the next step, in words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from nightglass.gear.lens import LensSetting
from nightglass.proof.codes import NextStepCode, VerdictCode
from nightglass.proof.records import NextStep, Proof, Verdict
from nightglass.verdict.records import Interval

VERDICTS = {
    VerdictCode.HOLDS: "the bench order holds",
    VerdictCode.HOLDS_BUT: "the bench order holds but for",
    VerdictCode.CONTRADICTED: "the bench order does not hold: the sky contradicts it for",
    VerdictCode.TOO_CLOSE: (
        "can't tell: the settings lie closer together than the errors of bench and sky"
    ),
    VerdictCode.MAY_BE_UNRELATED: (
        "can't tell: within the errors the orders may have nothing in common"
    ),
    VerdictCode.TOO_FEW_SETTINGS: "can't tell: too few settings have both bench and sky",
    VerdictCode.NO_SHARED_PLACE: (
        "can't tell: no place has a size on both bench and sky with every setting"
    ),
}
NEXT_STEPS = {
    NextStepCode.SHOOT_THE_SKY: (
        "shoot a frame of the sky with a setting of this bench: five lines in docs/sky.md"
    ),
    NextStepCode.SHOOT_MORE_SETTINGS: (
        "shoot the sky with four or more settings of this bench, all in one night, with open sky "
        "at every place"
    ),
    NextStepCode.SHOOT_UNSEEN_PLACE: "shoot {setting} again, with open sky at {place}",
    NextStepCode.REPEAT_EVERY_SETTING: (
        "shoot each setting two or three times more, focusing before each, sky and bench"
    ),
    NextStepCode.REFOCUS: "focus again and shoot {setting} once more, sky and bench",
    NextStepCode.TRUST_THE_RANKING: "trust the ranking: nightglass rank",
}
TAU_MEANS = (
    "tau is 1 where all pairs of settings stand in the same order on bench and sky, 0 where as "
    "many are reversed as not, -1 where all are reversed"
)
FEW_SETTINGS = 3
"""Up to so many settings, tau tells nothing of an order."""
TOO_FEW = (
    "These three settings are too few to tell an order in general: chance alone puts three alike "
    "once in six."
)
"""Three settings have 3 x 2 x 1 = 6 orders; fewer have no tau at all."""


def setting_words(setting: LensSetting) -> str:
    """Return a setting in one line: lens, focal length, f-number."""
    return f"{setting.lens}, {round(setting.focal_mm, 1):g} mm, f/{setting.f_number:g}"


def and_words(parts: Sequence[str]) -> str:
    """Return a, b and c."""
    return " and ".join([", ".join(parts[:-1]), parts[-1]] if len(parts) > 1 else list(parts))


def verdict_words(verdict: Verdict) -> str:
    """Return the verdict as one sentence without its full stop, the places it rests on last."""
    words = VERDICTS[verdict.code]
    if verdict.code is VerdictCode.TOO_FEW_SETTINGS:
        has = "setting has" if verdict.settings == 1 else "settings have"
        return f"can't tell: {verdict.settings} {has} both bench and sky: too few to tell an order"
    if verdict.code is VerdictCode.NO_SHARED_PLACE:
        fewest = "" if verdict.fewest is None else setting_words(verdict.fewest)
        return f"{words}; {fewest} has only {and_words(verdict.places)}"
    if verdict.code in (VerdictCode.HOLDS_BUT, VerdictCode.CONTRADICTED):
        words = f"{words} {'; '.join(_odd(verdict))}"
    return _judged_at(verdict, words)


def _odd(verdict: Verdict) -> Iterator[str]:
    yield from (setting_words(setting) for setting in verdict.odd)
    for one, other in verdict.odd_pairs:
        yield f"the pair {setting_words(one)} and {setting_words(other)}"


def _judged_at(verdict: Verdict, words: str) -> str:
    """The verdict with the places that it rests on, and those it would need."""
    places = and_words(verdict.places)
    if not verdict.unseen:
        return f"{words}, judged at {places}"
    unseen = "; ".join(f"{place} of {setting_words(setting)}" for place, setting in verdict.unseen)
    missing = f"{unseen}, largest on the bench, has no size on the sky with every setting"
    if words.startswith("can't tell"):
        return f"{words}, judged at {places}; {missing}"
    return f"can't tell: {missing}; judged at {places} alone, {words}"


def next_step_words(step: NextStep) -> str:
    """Return the one thing to do next."""
    setting = "" if step.setting is None else setting_words(step.setting)
    return NEXT_STEPS[step.code].format(setting=setting, place=step.place)


def order_lines(proof: Proof) -> Iterator[str]:
    """Yield how the orders of settings agree, plain words first; nothing where too few have both.

    Of three settings or fewer no tau is shown: its interval would be empty or all there is.
    """
    if proof.tau is None:
        return
    held, against, left = proof.pairs_held, len(proof.pairs_against), len(proof.pairs_open)
    yield (
        f"Pairs of settings by these places: {held} in the same order on bench and sky, {against} "
        f"reversed, {left} undecided."
    )
    few = proof.verdict.settings <= FEW_SETTINGS
    if few:
        yield TOO_FEW
    for tighter, wider in proof.pairs_against:
        yield (
            f"  tighter on the bench, not on the sky: {setting_words(tighter)} before "
            f"{setting_words(wider)}"
        )
    if not few:
        yield (
            "Order of settings by the largest of these places: Kendall's tau "
            f"{_with_span(proof.tau)}."
        )
    stars = proof.stars_tau if proof.stars_settings > FEW_SETTINGS else None
    if stars is not None:
        yield f"Order of settings by their stars, predicted and found: tau {_with_span(stars)}."
    if not few or stars is not None:
        yield f"{TAU_MEANS[0].upper()}{TAU_MEANS[1:]}."


def _with_span(tau: Interval) -> str:
    return f"{tau.value:.2f} ({tau.low:.2f} to {tau.high:.2f})"
