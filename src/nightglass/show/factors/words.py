"""What a factor study says, in words: one sentence for each condition of the bench."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from nightglass.bench.factors.model import LEAST_FRAMES
from nightglass.bench.factors.records import (
    Effect,
    FactorStudy,
    Influence,
    InfluenceFault,
    Ladder,
    LadderVerdict,
    Span,
)
from nightglass.show.words import f_number, focal, seconds

NAMES = {
    Influence.EXPOSURE: "exposure",
    Influence.ISO: "ISO",
    Influence.DISTANCE: "distance",
    Influence.SOURCE: "size of the source",
    Influence.FOCUS: "focus",
}
STEP_WORDS = {
    Influence.EXPOSURE: "one stop brighter",
    Influence.ISO: "ISO one stop higher",
    Influence.DISTANCE: "source twice as far",
    Influence.SOURCE: "source twice as wide",
    Influence.FOCUS: "focus one mark higher",
}
OFF_BEST = "focus one mark off the best"
TYPED = {
    Influence.EXPOSURE: "exposure_s = 0.5",
    Influence.ISO: "iso = 800",
    Influence.DISTANCE: "distance_m = 10",
    Influence.SOURCE: "source_diameter_mm = 0.3",
    Influence.FOCUS: "focus_mark = 3",
}
CODES: dict[InfluenceFault | LadderVerdict, str] = {
    InfluenceFault.NEVER_VARIED: "it never varied here",
    InfluenceFault.NOT_KNOWN: "some or all frames don't say it, and bench.toml doesn't",
    InfluenceFault.ONLY_TOGETHER: "it varied only together with those in `together_with`",
    InfluenceFault.TOO_FEW_FRAMES: "too few frames for a number",
    InfluenceFault.TOO_FEW_ROUNDS: "it changed only from round to round, and rounds are too few",
    LadderVerdict.NOT_TOLD: "too few frames to hold the exposures together",
    LadderVerdict.AGREE: "exposures differ by no more than chance makes them",
    LadderVerdict.DIFFER: "exposures differ by more than chance makes them (under 5 %)",
}
"""Codes in the JSON, as the glossary explains them."""
SHOWN_STUDIES = 4
NO_STUDY = (
    "No factor study: nothing varied at one setting and place. Shoot one setting with the star at "
    "one place, and change exposure, ISO, distance, source or focus between frames "
    "(docs/factors.md)."
)


def report_lines(studies: Sequence[FactorStudy]) -> Iterator[str]:
    """Yield the studies that tell something or were meant as one, the largest in full, and how
    many others there are."""
    fault = nothing_told(studies)
    if fault is not None:
        yield fault
    meant = [s for s in studies if _told(s) or s.series is not None]
    for number, study in enumerate(meant[:SHOWN_STUDIES]):
        if number or fault is not None:
            yield ""
        yield from study_lines(study)
    more = len(meant) - SHOWN_STUDIES
    if more > 0:
        yield ""
        yield f"{more} smaller {'study' if more == 1 else 'studies'}: --json, or one lens by --lens"
    chance = len(studies) - len(meant)
    if chance and fault is None:
        yield ""
        yield (
            f"{chance} more settings and places, not shot as a study, in which something varied: "
            "too little to tell (--json names them)"
        )


def nothing_told(studies: Sequence[FactorStudy]) -> str | None:
    """Return why no effect can be told anywhere; None where one can."""
    if not studies:
        return NO_STUDY
    if any(_told(study) for study in studies):
        return None
    most = max(study.frames for study in studies)
    places = "1 place" if len(studies) == 1 else f"{len(studies)} settings and places"
    return (
        f"No effect can be told yet: something varied at {places}, in {most} frames at most. Take "
        f"{LEAST_FRAMES} or more, best 20, of one setting with the star at one place "
        "(docs/factors.md)."
    )


def _told(study: FactorStudy) -> bool:
    return any(effect.percent is not None for effect in study.effects)


def study_lines(study: FactorStudy) -> Iterator[str]:
    """Yield one study: where, the answer, a sentence for each condition, what is left, the
    ladder."""
    yield f"{study_name(study)}: {_frames(study)}"
    yield answer(study)
    yield from (f"  {effect_words(effect)}" for effect in study.effects if effect.fault is None)
    yield from (f"  {line}" for line in _faults(study.effects))
    yield f"  {_rest(study)}"
    if study.ladder is not None:
        yield f"  {ladder_words(study.ladder)}"


def study_name(study: FactorStudy) -> str:
    """Return lens, setting, place and series of a study."""
    setting = study.setting
    mark = f"{setting.focal_mm:g} mm"
    zoom = "" if mark in setting.lens else f" at {focal(setting.focal_mm)}"
    series = "" if study.series is None else f', series "{study.series}"'
    return f"{setting.lens}{zoom}, {f_number(setting.f_number)}, {study.place}{series}"


def answer(study: FactorStudy) -> str:
    """Return the one sentence of a study: what moves the size most."""
    told = [effect for effect in study.effects if effect.percent is not None]
    found = [effect for effect in told if effect.percent and effect.percent.found]
    if not told:
        return "None of the conditions can be told here."
    if not found:
        return f"No effect found of {_joined([NAMES[e.influence] for e in told])}."
    first = max(found, key=lambda e: e.share_percent.value if e.share_percent else 0.0)
    share = first.share_percent.value if first.share_percent else 0.0
    return f"The {NAMES[first.influence]} moves the size most: {share:.0f} % of the spread."


def effect_words(effect: Effect) -> str:
    """Return the sentence of one condition that was told.

    Raises ValueError for one without a number.
    """
    if effect.percent is None or effect.share_percent is None:
        raise ValueError(f"{effect.influence} has no number: its fault is {effect.fault}")
    step = OFF_BEST if effect.off_best else STEP_WORDS[effect.influence]
    return f"{step}: {_change(effect.percent)}; {_share(effect.share_percent)}"


def ladder_words(ladder: Ladder) -> str:
    """Return whether unclipped frames of several exposures agree."""
    steps = ladder.steps
    if ladder.verdict is LadderVerdict.NOT_TOLD:
        return f"Exposure ladder: {len(steps)} exposures, too few frames to hold them together."
    ends = ", ".join(
        f"{step.size_px:.2f} px at {seconds(step.exposure_s)}" for step in (steps[0], steps[-1])
    )
    if ladder.verdict is LadderVerdict.AGREE:
        return f"Exposure ladder: unclipped frames of {len(steps)} exposures agree ({ends})."
    peak = steps[-1].peak_share
    high = "" if peak is None else f", whose peak reaches {100 * peak:.0f} % of clipping"
    return (
        f"Exposure ladder: unclipped frames of {len(steps)} exposures differ beyond chance ({ends}"
        f"{high}); expose all lenses alike, peak at 40 to 70 %."
    )


def next_words(studies: Sequence[FactorStudy], folder: str) -> str:
    """Return the one next step."""
    found = {
        NAMES[effect.influence]
        for study in studies
        for effect in study.effects
        if effect.percent is not None and effect.percent.found
    }
    if nothing_told(studies) is not None:
        return f'Next: shoot a study, then  nightglass measure "{folder}"'
    if found:
        kept = _joined(sorted(found))
        return f'Next: keep {kept} alike for all lenses, then  nightglass rank "{folder}"'
    return f'Next: nightglass rank "{folder}"'


def _frames(study: FactorStudy) -> str:
    rounds = f" in {study.rounds} rounds" if study.rounds > 1 else ""
    out = [
        f"{count} {why}"
        for count, why in (
            (study.left_out_clipped, "clipped"),
            (study.left_out_at_limit, "at limit"),
        )
        if count
    ]
    left = f"; left out: {', '.join(out)}" if out else ""
    return f"{study.frames} frames{rounds}, spread {study.spread_percent:.1f} %{left}"


def _change(span: Span) -> str:
    if span.found:
        low, high = (_signed(end).removesuffix(" %") for end in (span.low, span.high))
        return f"{_signed(span.value)} ({low} to {high} %)"
    return f"{_signed(span.value)} (no effect found above {span.most:.1f} %)"


def _share(span: Span) -> str:
    if span.low > 0:
        return f"explains {span.value:.0f} % of the spread ({span.low:.0f} to {span.high:.0f} %)"
    return f"explains at most {span.high:.0f} % of the spread"


def _signed(value: float) -> str:
    sign = "+" if value >= 0 else "\N{MINUS SIGN}"
    return f"{sign}{abs(value):.1f} %"


def _faults(effects: Sequence[Effect]) -> Iterator[str]:
    never = [e for e in effects if e.fault is InfluenceFault.NEVER_VARIED]
    if never:
        yield f"Not tested, never varied here: {_joined([_tried(e) for e in never])}."
    unknown = [e for e in effects if e.fault is InfluenceFault.NOT_KNOWN and not e.levels]
    for effect in effects:
        if effect.fault is InfluenceFault.NOT_KNOWN and effect.levels:
            yield (
                f"{NAMES[effect.influence]}: known of some frames only; say it of all in "
                f"bench.toml: [[frames]] with {TYPED[effect.influence]}"
            )
        elif effect.fault is InfluenceFault.TOO_FEW_FRAMES:
            yield f"{NAMES[effect.influence]}: too few frames for a number; shoot more rounds."
        elif effect.fault is InfluenceFault.TOO_FEW_ROUNDS:
            yield (
                f"{NAMES[effect.influence]}: it changed only from round to round, and the rounds "
                "are too few; go back and forth in more rounds."
            )
    if unknown:
        yield f"Not tested, nowhere said: {_joined([NAMES[e.influence] for e in unknown])}."
    for names in _together(effects):
        yield (
            f"{_joined(names)} only varied together: their effects can't be told apart; vary one "
            "alone."
        )


def _together(effects: Sequence[Effect]) -> list[list[str]]:
    stuck = [e for e in effects if e.fault is InfluenceFault.ONLY_TOGETHER]
    groups: list[set[Influence]] = []
    for effect in stuck:
        own = {effect.influence, *effect.together_with}
        joined = [g for g in groups if g & own]
        groups = [g for g in groups if not g & own]
        groups.append(own.union(*joined))
    return [[NAMES[kind] for kind in Influence if kind in group] for group in groups]


def _tried(effect: Effect) -> str:
    value = effect.most or 0.0
    tried = {
        Influence.EXPOSURE: f"always {seconds(value)}" if value > 0 else "",
        Influence.ISO: f"always {value:g}",
        Influence.DISTANCE: f"always {value:g} m",
        Influence.SOURCE: f"always {value:g} mm",
        Influence.FOCUS: f"always mark {value:g}",
    }
    return f"{NAMES[effect.influence]} ({tried[effect.influence]})"


def _rest(study: FactorStudy) -> str:
    words = f"from frame to frame, unexplained: {study.unexplained_percent:.0f} % of the spread"
    if study.between_rounds_percent is None:
        return f"{words}."
    return f"between rounds: {study.between_rounds_percent:.0f} % of the spread; {words}."


def _joined(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
