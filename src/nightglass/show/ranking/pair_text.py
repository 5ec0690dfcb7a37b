"""Two settings side by side, in words and as plain data."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict
from typing import Any

from nightglass.show.columns import Facts, Part, Table, lines_of
from nightglass.show.ranking.factor_words import cell, title
from nightglass.show.ranking.look_words import look_words
from nightglass.show.ranking.note_words import note_words
from nightglass.show.ranking.session_words import OF_SESSIONS
from nightglass.show.ranking.stops_words import stops_of, stops_words
from nightglass.show.ranking.tables import finite
from nightglass.show.words import NOT_TESTED, f_number, focal, percent, seconds, signed_percent
from nightglass.verdict.order.pair import MOST_FRAMES, PlaceOfTwo, SettingPair
from nightglass.verdict.records import Worth

_LESS_THAN = "\N{LESS-THAN OR EQUAL TO} "


def pair_name(pair: SettingPair, worth: Worth) -> str:
    """Return the name of a setting: lens, f-number, and the focal length of a zoom."""
    setting = worth.setting
    at = f_number(setting.f_number)
    if setting.lens in pair.zooms:
        at = f"{focal(setting.focal_mm)} {at}"
    return f"{setting.lens} at {at}"


def pair_sentences(pair: SettingPair) -> Iterator[str]:
    """Yield the answer: which is better, by how much, whether it shows, and how sure that is."""
    better, weaker = pair.better, pair.weaker
    ratio = better.score.value / weaker.score.value
    shows = "hardly visible" if pair.hardly_visible else "a difference that shows"
    names = f"{pair_name(pair, better)} is ahead of {pair_name(pair, weaker)}"
    yield f"{names} by {stops_words(stops_of(ratio))}: {shows}."
    if pair.gain_percent.low is None:
        yield "How sure that is can't be said: with one repeat each the scatter is not known."
    elif not pair.told_apart:
        yield "That is not sure: what was measured can't tell the two apart."
    if pair.different_picture:
        yield (
            f"They take different pictures: {focal(pair.one.setting.focal_mm)} against "
            f"{focal(pair.other.setting.focal_mm)}. For one patch of sky ask with --view sky."
        )
    yield _frames(pair)


def pair_rows(pair: SettingPair) -> list[list[str]]:
    """Return the table: a row of head, then name, both values, and one over the other."""
    one, other = pair.one, pair.other
    rows = [["", "A", "B", "A over B"]]
    rows.append(["time", *(_time(w) for w in (one, other)), ""])
    rows.append(["light", "", "", f"{pair.light_stops:+.1f} stops".replace("-", "\N{MINUS SIGN}")])
    rows += [_place_row(place) for place in pair.places]
    rows += [
        [title(code), cell(code, one), cell(code, other), signed_percent(gain)]
        for code, gain in pair.factor_gains_percent.items()
    ]  # fmt: skip
    gain = pair.gain_percent
    span = ""
    if gain.low is not None and gain.high is not None:
        span = f" ({signed_percent(gain.low)} to {signed_percent(gain.high)})"
    rows.append(
        ["score", f"{one.score.value:.0f}", f"{other.score.value:.0f}",
         f"{signed_percent(gain.value)}{span}"]
    )  # fmt: skip
    return rows


def pair_lines(pair: SettingPair, width: int | None = None) -> Iterator[str]:
    """Yield the pair as lines; width: of the terminal, None for a file."""
    yield from lines_of(pair_parts(pair), width)


def pair_parts(pair: SettingPair) -> Iterator[Part]:
    """Yield sentences, table and how stars look."""
    yield from pair_sentences(pair)
    yield ""
    yield Facts((("A", pair_name(pair, pair.one)), ("B", pair_name(pair, pair.other))))
    yield ""
    titles, *rows = map(tuple, pair_rows(pair))
    yield Table(titles, tuple(rows), titles[1:], indent="")
    yield ""
    yield "Blur is the length of a star's spot, % of picture height, without trail; 95 %."
    for letter, worth in (("A", pair.one), ("B", pair.other)):
        yield f"{letter}: stars look {look_words(worth.looks)}"
        for note in worth.notes:
            if note.code in OF_SESSIONS:
                yield f"{letter}: {note_words(note)}"


def pair_data(pair: SettingPair) -> dict[str, Any]:
    """Return the pair as plain data."""

    def side(worth: Worth) -> dict[str, Any]:
        return {
            **asdict(worth.setting),
            "exposure_s": worth.exposure_s,
            "score": worth.score.value,
            "gathered_mm2_s": worth.gathered_mm2_s,
            **worth.factors,
            "notes": [asdict(note) for note in worth.notes if note.code in OF_SESSIONS],
        }

    found: dict[str, Any] = finite(
        {
            "one": side(pair.one),
            "other": side(pair.other),
            "gain_percent": asdict(pair.gain_percent),
            "told_apart": pair.told_apart,
            "hardly_visible": pair.hardly_visible,
            "different_picture": pair.different_picture,
            "light_stops": pair.light_stops,
            "factor_gains_percent": pair.factor_gains_percent,
            "places": [asdict(place) for place in pair.places],
            "frames_to_equal": pair.frames_to_equal,
        }
    )
    return found


def _frames(pair: SettingPair) -> str:
    weaker, better = pair_name(pair, pair.weaker), pair_name(pair, pair.better)
    if pair.frames_to_equal is None:
        return f"Not even {MOST_FRAMES} stacked frames of {weaker} equal one of {better}."
    count = pair.frames_to_equal
    if count == 1:
        return f"One frame of {weaker} is as good."
    return f"{count} stacked frames of {weaker} equal one of {better}."


def _time(worth: Worth) -> str:
    return seconds(worth.times.chosen.shown_s(worth.release))


def _place_row(place: PlaceOfTwo) -> list[str]:
    ratio = ""
    if place.ratio is not None:
        ratio = f"{place.ratio.value:.2f} times"
        if place.ratio.low is not None and place.ratio.high is not None:
            ratio += f" ({place.ratio.low:.2f} to {place.ratio.high:.2f})"
    return [
        f"blur, {place.place}",
        _size(place.one_percent, place.one_at_limit),
        _size(place.other_percent, place.other_at_limit),
        ratio,
    ]


def _size(value: float | None, at_limit: bool) -> str:
    if value is None:
        return NOT_TESTED
    return f"{_LESS_THAN if at_limit else ''}{percent(value)}"
