"""The ranking as a terminal shows it: rows of the table, and the lines below it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

from nightglass.gear.benchfile import BenchFile
from nightglass.show.ranking.factor_words import cell, title
from nightglass.show.ranking.note_words import (
    NOT_TESTED_EVERYWHERE,
    not_ranked_name,
    note_words,
    order_frequency_words,
)
from nightglass.show.ranking.tables import no_gain_reason
from nightglass.show.words import f_number, focal, percent, seconds, signed_percent
from nightglass.verdict.records import Interval, Ranking, Standing, Worth, ZoomJump
from nightglass.verdict.times import all_rules

WORDY_COLUMNS = ("lens, setting", "gain over the next")
"""Columns of words, which stand to the left."""


def headline(ranking: Ranking) -> str:
    """Return the line above the table."""
    limit = f"{ranking.limit_percent:.3g} % of picture height: {ranking.limit_purpose}"
    return f"Best setting of each lens; blur limit {limit}"


def ranking_lines(ranking: Ranking, folder: Path) -> Iterator[str]:
    """Yield what stands below the table, line by line."""
    if ranking.standings:
        yield "Merged: stars bright enough, but so close to others that they are not counted."
    for standing in ranking.standings:
        for note in standing.worth.notes:
            yield f"{_setting(standing.worth)}: {note_words(note)}"
    yield from (_jump_line(jump) for jump in ranking.jumps)
    if ranking.unbeaten:
        yield ""
        yield "No other setting beats these in both light (score) and tightness (blur):"
        yield from (f"  {_unbeaten_line(worth)}" for worth in ranking.unbeaten)
    if ranking.order_holds:
        yield ""
        yield order_frequency_words(ranking.order_holds)
    if ranking.not_ranked:
        yield ""
        yield "Not ranked:"
        yield from (
            f"  {not_ranked_name(one)}: {note_words(one.reason)}" for one in ranking.not_ranked
        )
    yield ""
    yield "Assumed:"
    yield from (f"  {a.name}: {a.value} [{a.source}]" for a in ranking.assumptions)
    yield ""
    if ranking.standings:
        yield f'Next: make the field card with  nightglass card "{folder}"'
    else:
        yield f'Next: put raw frames into frames/, then  nightglass measure "{folder}"'


def table_row(standing: Standing) -> dict[str, str]:
    """Return one row of the printed table: its column titles and texts."""
    worth, times = standing.worth, standing.worth.times
    marks = ["over your limit"] * standing.over_limit + ["at limit"] * worth.at_limit
    if any(note.code in NOT_TESTED_EVERYWHERE for note in worth.notes):
        marks.append("not tested everywhere")
    if standing.tied_with:
        marks.append(f"shares its place with {', '.join(standing.tied_with)}")
    blur, span = percent(worth.lens_tightness_percent).removesuffix(" %"), worth.tightness_interval
    if worth.at_limit:
        blur = f"at most {blur}"
    gain = standing.gain_over_next_percent
    gained = no_gain_reason(standing)
    if gain is not None:
        gained = f"{signed_percent(gain.value)} over\n{standing.next_lower}"
    return {
        "place": str(standing.place),
        "lens, setting": "\n".join([worth.setting.lens, _setting_only(worth), *marks]),
        "time": f"{seconds(times.remote_s)} remote\n{seconds(times.dial_marked_s)} dial",
        "blur, % of height": _with_interval(blur, span, "{:.3f}".format),
        "with trail": percent(worth.tightness_percent).removesuffix(" %"),
        **{title(code): cell(code, worth) for code in worth.factors},
        "score": _with_interval(f"{worth.score.value:.0f}", worth.score, "{:.0f}".format),
        "gain over the next": _with_interval(gained, gain, signed_percent),
    }


def rules_lines(ranking: Ranking, bench: BenchFile) -> Iterator[str]:
    """Yield what every common rule allows for the best setting of each lens."""
    for standing in ranking.standings:
        worth = standing.worth
        blur_px = worth.lens_tightness_percent / 100 * bench.body.picture_height_px
        setting = worth.setting
        yield ""
        yield f"{_setting(worth)}: what each rule allows, and its trail at the frame centre"
        for rule in all_rules(bench.time, bench.body, setting.focal_mm, setting.f_number, blur_px):
            yield (
                f"  {rule.limit_s:6.1f} s  {percent(rule.trail_percent):>8} of height  {rule.name}"
                f"  [{rule.source}]"
            )


def _with_interval(text: str, interval: Interval | None, form: Callable[[float], str]) -> str:
    if interval is None or interval.low is None or interval.high is None:
        return text
    return f"{text}\n{form(interval.low)} to {form(interval.high)}"


def _setting_only(worth: Worth) -> str:
    return f"{focal(worth.setting.focal_mm)}, {f_number(worth.setting.f_number)}"


def _setting(worth: Worth) -> str:
    return f"{worth.setting.lens}, {_setting_only(worth)}"


def _jump_line(jump: ZoomJump) -> str:
    return (
        f"{jump.lens}: blur jumps at {focal(jump.focal_mm)}, {jump.ratio:.1f} times that of the "
        f"zoom positions beside it ({jump.place}, {f_number(jump.f_number)})"
    )


def _unbeaten_line(worth: Worth) -> str:
    over = "" if worth.eligible else ", over your limit"
    bound = "at most " if worth.at_limit else ""
    return (
        f"{_setting(worth)}: score {worth.score.value:.0f}, blur {bound}"
        f"{percent(worth.lens_tightness_percent)} of height{over}"
    )
