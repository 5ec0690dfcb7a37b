"""What a photographer would say of a ranking: two to four sentences before any table."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from nightglass.light.aperture import TransmissionSource
from nightglass.show.faults.copy_words import chance_words
from nightglass.show.ranking.stops_words import stops_of, stops_words
from nightglass.show.words import f_number, focal, percent
from nightglass.verdict.codes import AssumptionCode, LossReason
from nightglass.verdict.question import Question
from nightglass.verdict.records import Ranking, Standing, UnevenCorners, WideOpen, Worth

LEAST_STOPS = 1 / 3
"""Wide open is spoken of above the table where it gathers this much more light."""
LOSS_WORDS = {
    LossReason.STREAKS: "its stars look like streaks in the corners",
    LossReason.DRAWN_OUT: "its stars look drawn out in the corners",
    LossReason.BLUR: "its blur costs more than the light brings",
    LossReason.OVER_LIMIT: "its blur is over your limit",
}
LOSS_MEANINGS = {
    LossReason.STREAKS: "in its worst place stars look like streaks on a screen",
    LossReason.DRAWN_OUT: "in its worst place stars look drawn out on a screen",
    LossReason.BLUR: "stars look no worse in kind, yet blur costs more than the light brings",
    LossReason.OVER_LIMIT: "its blur is over the person's limit",
}
"""Codes of `wide_open.reason` in the JSON, as the glossary explains them."""


def opening(ranking: Ranking) -> Iterator[str]:
    """Yield what a photographer would say first; nothing for an empty ranking."""
    if not ranking.standings:
        return
    yield _first(ranking)
    yield from _wide_open_of_all(ranking.standings)
    yield from _other_question(ranking)
    yield from _what_would_decide(ranking)


def setting_words(ranking: Ranking, worth: Worth) -> str:
    """Return "Plover 24 mm f/2.2 at f/2.8"; with the focal length where the lens was judged at
    several."""
    lens = worth.setting.lens
    several = len({w.setting.focal_mm for w in ranking.worths if w.setting.lens == lens}) > 1
    at = f_number(worth.setting.f_number)
    return f"{lens} at {focal(worth.setting.focal_mm)} {at}" if several else f"{lens} at {at}"


def lens_lines(standing: Standing) -> Iterator[str]:
    """Yield what stands beside a lens's best setting: tighter, wide open, bad corners."""
    worth = standing.worth
    if standing.tighter is not None:
        yield _tighter(standing.tighter, worth)
    if standing.wide_open is not None:
        yield _wide_open(standing.wide_open, worth)
    if standing.uneven is not None:
        yield uneven_words(standing.uneven, worth)


def gain_words(standing: Standing) -> str:
    """Return by how much a standing leads the next lower one, in stops and whether it shows."""
    if not (size := _lead_words(standing)):
        return ""
    shows = ", hardly visible" if standing.hardly_visible else ""
    return f"{size} ahead of {standing.next_lower}{shows}"


def ahead_words(standing: Standing) -> str:
    """Return the same in few words, for a table in which the next lens stands below."""
    parts = [f"{_lead_words(standing)} ahead"]
    parts += ["hardly visible"] * standing.hardly_visible
    parts += ["a different picture"] * standing.different_picture
    return ",\n".join(parts)


def _lead_words(standing: Standing) -> str:
    gain = standing.gain_over_next_percent
    if gain is None or standing.next_lower is None:
        return ""
    ratio = 1 + gain.value / 100
    return stops_words(stops_of(ratio)) if ratio > 0 else "more than can be said"


def _other_picture(standing: Standing, following: Standing) -> str:
    if not standing.different_picture:
        return ""
    pair = (standing.worth.setting.focal_mm, following.worth.setting.focal_mm)
    return f", but in a different picture ({focal(pair[0])} against {focal(pair[1])})"


def uneven_words(uneven: UnevenCorners, worth: Worth) -> str:
    """Return that the corners of a setting differ beyond their errors, and what it costs."""
    bound = "at least " if uneven.at_least else ""
    return (
        f"corners differ: {uneven.worst_place} is {bound}{uneven.ratio:.1f} times as blurred as "
        f"{uneven.best_place}, more than the repeats explain (by chance in "
        f"{chance_words(uneven.chance)} of sound lenses): this copy may be decentred or tilted; "
        f"score {uneven.score_without:.0f} instead of {worth.score.value:.0f} without that corner"
    )


def _first(ranking: Ranking) -> str:
    first = ranking.standings[0]
    name = setting_words(ranking, first.worth)
    if len(ranking.standings) == 1:
        return f"{name} is the best setting of the one lens that was judged."
    lead = f"{name} first."
    if ahead := gain_words(first):
        lead = f"{name} first: {ahead}{_other_picture(first, ranking.standings[1])}."
    if not first.tied_with:
        return lead
    others = _names(first.tied_with)
    return f"{lead} That lead is not sure: it shares the first place with {others}."


def _wide_open_of_all(standings: Sequence[Standing]) -> Iterator[str]:
    """The lens whose widest opening gathers the most more light than its best setting."""
    wide = [s for s in standings if s.wide_open and s.wide_open.light_stops >= LEAST_STOPS]
    if not wide:
        return
    most = max(wide, key=lambda s: s.wide_open.light_stops if s.wide_open else 0.0)
    if most.wide_open is not None:
        it = most.wide_open
        yield (
            f"{most.worth.setting.lens} wide open at {f_number(it.worth.setting.f_number)} gathers "
            f"{stops_words(it.light_stops)} more light than at "
            f"{f_number(most.worth.setting.f_number)}, but {LOSS_WORDS[it.reason]}."
        )


def _other_question(ranking: Ranking) -> Iterator[str]:
    """Which lens leads the question that was not asked, where it is another one."""
    best = max(ranking.worths, key=lambda w: (w.eligible, w.other_score))
    if best.setting.lens == ranking.standings[0].worth.setting.lens:
        return
    if ranking.question is Question.PICTURE:
        yield (
            f"For one patch of sky (a panorama, a crop, a stack) {setting_words(ranking, best)} "
            "leads: --view sky."
        )
    else:
        yield f"For the whole picture {setting_words(ranking, best)} leads: --view picture."


def _what_would_decide(ranking: Ranking) -> Iterator[str]:
    """What to measure where a tie rests on unmeasured light."""
    tied = {lens for s in ranking.standings if s.tied_with for lens in (s.worth.setting.lens,)}
    unknown = {
        lens
        for one in ranking.assumptions
        if one.code is AssumptionCode.TRANSMISSION
        and one.values["known_from"] == TransmissionSource.DEFAULT.value
        for lens in one.values["lenses"]  # type: ignore[union-attr]
    }
    if len(tied & unknown) >= 2:
        yield (
            "How much light these lenses pass is not measured, and that alone can move a score by "
            "a quarter: a T-stop or a measured transmission in bench.toml parts them better."
        )


def _tighter(tighter: Worth, best: Worth) -> str:
    lost = stops_words(stops_of(tighter.score.value / best.score.value))
    share = tighter.lens_tightness_percent / best.lens_tightness_percent
    bound = "at most " if tighter.at_limit else ""
    return (
        f"{f_number(tighter.setting.f_number)}: {lost} less, {bound}{100 * share:.0f} % of the blur"
    )


def _wide_open(wide: WideOpen, best: Worth) -> str:
    return (
        f"wide open at {f_number(wide.worth.setting.f_number)}: "
        f"{stops_words(wide.light_stops)} more light, but {LOSS_WORDS[wide.reason]}: blur "
        f"{percent(wide.worth.lens_tightness_percent)} against "
        f"{percent(best.lens_tightness_percent)}, score {wide.worth.score.value:.0f}"
    )


def _names(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
