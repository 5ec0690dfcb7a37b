"""The ranking as a terminal shows it: sentences, table or stacked rows, and the lines below."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

from nightglass.bench.faults.copies import CopyFinding, CopyVerdict
from nightglass.bench.waiting import Waiting
from nightglass.gear.benchfile import BenchFile
from nightglass.show.faults.copy_words import copies_not_tested_lines, copy_words
from nightglass.show.iso_words import iso_reason_words
from nightglass.show.ranking.assumption_words import assumption_lines
from nightglass.show.ranking.factor_words import cell, title
from nightglass.show.ranking.look_words import look_words, one_look_words, viewed_words
from nightglass.show.ranking.note_words import (
    NOT_TESTED_EVERYWHERE,
    not_ranked_name,
    note_words,
    order_frequency_words,
)
from nightglass.show.ranking.sentences import ahead_words, gain_words, lens_lines, setting_words
from nightglass.show.ranking.session_words import session_lines
from nightglass.show.ranking.tables import no_gain_reason
from nightglass.show.words import f_number, focal, percent, seconds, signed_percent
from nightglass.verdict.factors import FACTORS
from nightglass.verdict.question import Question
from nightglass.verdict.records import Interval, Ranking, Standing, Worth, ZoomJump
from nightglass.verdict.times import all_rules

WORDY_COLUMNS = ("lens, setting", "stars look", "over the next")
"""Columns of words, which stand to the left."""
BLUR_COLUMN = "worst blur, % of height"
TABLE_COLUMNS = 110
"""A terminal narrower than this gets stacked rows in place of the table."""
NAMED_SETTINGS = 3
"""A remark on more settings than this counts them instead of naming them."""
_QUESTIONS = {
    Question.PICTURE: "Best setting of each lens for a whole picture",
    Question.SKY: "Best setting of each lens for one patch of sky, shown at one scale",
}


_OTHER_SCORE = {
    Question.PICTURE: "score for a patch of sky",
    Question.SKY: "score for a picture",
}


def headline(ranking: Ranking) -> str:
    """Return the line above the table."""
    limit = ""
    if ranking.limit is not None:
        limit = f"; your limit of blur: {percent(ranking.limit.percent)} of height"
    return f"{_QUESTIONS[ranking.question]}, looked at {viewed_words(ranking.eye)}{limit}"


def waiting_lines(waiting: Waiting, folder: Path) -> Iterator[str]:
    """Yield what takes no part in the ranking: files not on record, frames without a place."""
    if waiting.not_on_record:
        count = waiting.not_on_record
        files = "1 file in frames/ is" if count == 1 else f"{count} files in frames/ are"
        yield (
            f"{files} not on record: not measured yet, or copies of others. What follows leaves "
            f'them out; finish with  nightglass measure "{folder}"'
        )
    reasons: dict[str, int] = {}
    for _, reason in waiting.not_used:
        reasons[reason] = reasons.get(reason, 0) + 1
    for reason, count in reasons.items():
        yield f"{count} measured, but belonging to no setting: {reason}"


def next_line(ranking: Ranking, waiting: Waiting, folder: Path, typed: str = "") -> str:
    """Return the one next step; typed: the folder with its options, as the commands take them."""
    typed = typed or f'"{folder}"'
    if ranking.standings:
        return f"Next: make the field card with  nightglass card {typed}"
    if waiting.not_on_record:
        return f'Next: measure the frames with  nightglass measure "{folder}"'
    if waiting.not_used:
        return f"Next: mend bench.toml as said above, then  nightglass rank {typed}"
    return f'Next: put raw frames into frames/, then  nightglass measure "{folder}"'


def not_ranked_lines(ranking: Ranking) -> Iterator[str]:
    """Yield the lenses and settings without a place, those of one reason together."""
    names: dict[str, list[str]] = {}
    for one in ranking.not_ranked:
        names.setdefault(note_words(one.reason), []).append(not_ranked_name(one))
    for reason, those in names.items():
        yield f"{', '.join(those)}: {reason}"


def ranking_lines(ranking: Ranking, all_assumed: bool = False) -> Iterator[str]:
    """Yield what stands below the table, line by line."""
    for standing in ranking.standings:
        about = list(lens_lines(standing))
        if about:
            yield f"{setting_words(ranking, standing.worth)}:"
            yield from (f"  {line}" for line in about)
    yield from _remarks(ranking)
    yield from (_jump_line(jump) for jump in ranking.jumps)
    if ranking.unbeaten:
        yield ""
        yield "No other setting beats these in both light (score) and tightness (blur):"
        yield from (f"  {_unbeaten_line(ranking, worth)}" for worth in ranking.unbeaten)
    if ranking.order_frequency:
        yield ""
        yield order_frequency_words(ranking.order_frequency)
    about = list(session_lines(ranking))
    if about:
        yield ""
        yield from about
    if ranking.not_ranked:
        yield ""
        yield "Not ranked:"
        yield from (f"  {line}" for line in not_ranked_lines(ranking))
    yield ""
    if ranking.standings:
        yield from _assumed(ranking, all_assumed)
        yield ""


def table_row(standing: Standing, question: Question) -> dict[str, str]:
    """Return one row of the printed table: its column titles and texts."""
    worth = standing.worth
    blur, span = percent(worth.lens_tightness_percent).removesuffix(" %"), worth.tightness_interval
    if worth.at_limit:
        blur = f"at most {blur}"
    gain = standing.gain_over_next_percent
    gained = no_gain_reason(standing) if gain is None else ahead_words(standing)
    return {
        "place": str(standing.place) + ("=" if standing.tied_with else ""),
        "lens, setting": "\n".join([worth.setting.lens, _setting_only(worth), *_marks(standing)]),
        "time": times_words(worth).replace("; ", "\n"),
        "stars look": one_look_words(worth.looks[1]).replace(", ", "\n"),
        **{title(code): cell(code, worth) for code in _shown_factors(worth, question)},
        BLUR_COLUMN: _with_interval(blur, span, "{:.3f}".format),
        "score": _with_interval(f"{worth.score.value:.0f}", worth.score, "{:.0f}".format),
        _OTHER_SCORE[question]: f"{worth.other_score:.0f}",
        "over the next": _with_interval(gained, gain, signed_percent),
    }


def stacked_lines(ranking: Ranking) -> Iterator[str]:
    """Yield the ranking for a narrow terminal: a few short lines for each lens."""
    for standing in ranking.standings:
        worth = standing.worth
        bound = "at most " if worth.at_limit else ""
        yield f"{standing.place}{'=' if standing.tied_with else ''} {worth.setting.lens}"
        yield f"   {_setting_only(worth)}"
        yield from (f"   {mark}" for mark in _marks(standing))
        yield f"   score {_inline(worth.score)}"
        yield from (f"   {part}" for part in times_words(worth).split("; "))
        yield f"   blur {bound}{percent(worth.lens_tightness_percent)} of height"
        yield f"   {one_look_words(worth.looks[1])}"
        if words := gain_words(standing):
            yield f"   {words}"
        yield ""


def times_words(worth: Worth) -> str:
    """Return the time to set, and the one that holds elsewhere in the frame too."""
    chosen, other = (
        seconds(times.shown_s(worth.release)) for times in (worth.times.chosen, worth.times.other)
    )
    if worth.times.holds_at == "corners":
        return f"{chosen}, corners hold; {other} for the centre alone"
    return f"{chosen}; {other} if the corners must hold"


def details_lines(ranking: Ranking) -> Iterator[str]:
    """Yield what "=" means, how stars look with each lens, other times, and the ISO."""
    if any(standing.tied_with for standing in ranking.standings):
        yield "= shares its place: what was measured can't tell these lenses apart."
        yield ""
    for standing in ranking.standings:
        worth = standing.worth
        yield f"{setting_words(ranking, worth)}:"
        yield f"  stars look: {look_words(worth.looks)}"
        if standing.copy is not None and standing.uneven is None and _is_tested(standing.copy):
            yield f"  {copy_words(standing.copy)}"
        if standing.shorter_score is not None and standing.longer_score is not None:
            yield (
                f"  score {standing.shorter_score:.0f} at 0.7 times the time, "
                f"{standing.longer_score:.0f} at 1.4 times"
            )
    yield from copies_not_tested_lines(
        (standing.worth.setting.lens, standing.copy)
        for standing in ranking.standings
        if standing.copy is not None
    )
    yield from _iso_lines(ranking)


def _is_tested(copy: CopyFinding) -> bool:
    return copy.verdict is not CopyVerdict.NOT_TESTED


def _iso_lines(ranking: Ranking) -> Iterator[str]:
    """One line for each ISO, with the lenses that it is for."""
    lenses: dict[int | None, list[Worth]] = {}
    for standing in ranking.standings:
        lenses.setdefault(standing.worth.iso.iso, []).append(standing.worth)
    for iso, worths in lenses.items():
        who = "" if len(lenses) == 1 else f" for {', '.join(w.setting.lens for w in worths)}"
        number = "not known" if iso is None else str(iso)
        yield f"ISO {number}{who}: {iso_reason_words([w.iso for w in worths])}"


def rules_lines(ranking: Ranking, bench: BenchFile) -> Iterator[str]:
    """Yield what every common rule allows for the best setting of each lens."""
    for standing in ranking.standings:
        worth = standing.worth
        blur_px = worth.lens_tightness_percent / 100 * bench.body.picture_height_px
        setting = worth.setting
        yield ""
        name = setting_words(ranking, worth)
        yield f"{name}: what each rule allows, and its trail at the frame centre"
        for rule in all_rules(bench.time, bench.body, setting.focal_mm, setting.f_number, blur_px):
            yield (
                f"  {rule.limit_s:6.1f} s  {percent(rule.trail_percent):>8} of height  {rule.name}"
                f"  [{rule.source}]"
            )


def _marks(standing: Standing) -> list[str]:
    worth = standing.worth
    marks = ["at limit"] * worth.at_limit
    if worth.over_limit_percent is not None:
        marks.insert(0, f"over your limit by {percent(worth.over_limit_percent)}")
    if any(note.code in NOT_TESTED_EVERYWHERE for note in worth.notes):
        marks.append("not tested everywhere")
    return marks


def _shown_factors(worth: Worth, question: Question) -> list[str]:
    others = {factor.code for factor in FACTORS[question.other]}
    return [code for code in worth.factors if code not in others]


def _remarks(ranking: Ranking) -> Iterator[str]:
    """Notes on settings, each once with all the settings that it is about."""
    about: dict[str, list[str]] = {}
    for standing in ranking.standings:
        for note in standing.worth.notes:
            about.setdefault(note_words(note), []).append(setting_words(ranking, standing.worth))
    for words, names in about.items():
        who = ", ".join(names) if len(names) <= NAMED_SETTINGS else f"{len(names)} settings"
        yield f"{who}: {words}"


def _assumed(ranking: Ranking, everything: bool) -> Iterator[str]:
    if everything:
        yield "Assumed:"
        yield from (f"  {line}" for line in assumption_lines(ranking.assumptions))
        return
    if not ranking.standings:
        return
    movers = [one for one in ranking.assumptions if one.could_change_order]
    if movers:
        yield "Assumed, and another value could change the order:"
        yield from (f"  {line}" for line in assumption_lines(movers))
    elif len(ranking.standings) > 1:
        yield "No assumption, moved within its range, lifts a lens over one of a better place."
    yield f"All {len(ranking.assumptions)} assumptions with their sources: --assumed"


def _with_interval(text: str, interval: Interval | None, form: Callable[[float], str]) -> str:
    if interval is None or interval.low is None or interval.high is None:
        return text
    return f"{text}\n{form(interval.low)} to {form(interval.high)}"


def _inline(score: Interval) -> str:
    if score.low is None or score.high is None or score.low == score.high:
        return f"{score.value:.0f}"
    return f"{score.value:.0f} ({score.low:.0f} to {score.high:.0f})"


def _setting_only(worth: Worth) -> str:
    return f"{focal(worth.setting.focal_mm)}, {f_number(worth.setting.f_number)}"


def _jump_line(jump: ZoomJump) -> str:
    return (
        f"{jump.lens}: blur jumps at {focal(jump.focal_mm)}, {jump.ratio:.1f} times that of the "
        f"zoom positions beside it ({jump.place}, {f_number(jump.f_number)})"
    )


def _unbeaten_line(ranking: Ranking, worth: Worth) -> str:
    over = "" if worth.eligible else ", over your limit"
    bound = "at most " if worth.at_limit else ""
    return (
        f"{setting_words(ranking, worth)}: score {worth.score.value:.0f}, blur {bound}"
        f"{percent(worth.lens_tightness_percent)} of height{over}"
    )
