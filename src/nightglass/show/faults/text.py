"""What is wrong with each lens, in words: the sentence first, then the table."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from nightglass.bench.faults.copies import CopyFinding, CopyVerdict
from nightglass.bench.faults.report import LensFaults, SettingFaults
from nightglass.bench.faults.stops import StopsFinding
from nightglass.gear.body import Body
from nightglass.show.columns import Heading, Part, Table, lines_of
from nightglass.show.faults.copy_words import (
    cause_words,
    chance_words,
    copies_not_tested_lines,
    copy_words,
)
from nightglass.show.faults.shape_words import shape_words, short_shape
from nightglass.show.faults.stops_words import (
    SHORT,
    colour_words,
    left_words,
    slope_words,
    stops_words,
)
from nightglass.show.words import NOT_TESTED, f_number, focal, percent


def report_lines(lenses: Sequence[LensFaults], body: Body, width: int | None) -> Iterator[str]:
    """Yield the report as lines; width: of the terminal, None for a file."""
    yield from lines_of(report_parts(lenses, body), width)


def report_parts(lenses: Sequence[LensFaults], body: Body) -> Iterator[Part]:
    """Yield what stands out over all lenses, then each lens: its sentences and settings."""
    yield from lead_sentences(lenses)
    yield ""
    for one in lenses:
        yield Heading(one.lens)
        yield from (f"  {words}" for words in lens_sentences(one))
        yield ""
        yield Table(_HEAD, tuple(_row(s, body) for s in one.settings), indent="")
        yield ""
        told = [found for found in one.stops if found.slope is not None]
        if told:
            yield Table(_STOPS_HEAD, tuple(map(_stops_row, told)), indent="")
            yield ""


def lead_sentences(lenses: Sequence[LensFaults]) -> Iterator[str]:
    """Yield which lenses have an uneven copy, which have none shown, and which were not tested."""
    names: dict[CopyVerdict, list[str]] = {}
    for one in lenses:
        names.setdefault(clearest_copy(one).copy.verdict, []).append(one.lens)
    for verdict in (CopyVerdict.UNEVEN, CopyVerdict.SLIGHT, CopyVerdict.NONE_SHOWN):
        if verdict in names:
            yield f"{_LEAD[verdict]}: {', '.join(names[verdict])}."
    not_tested = [(one.lens, clearest_copy(one).copy) for one in lenses]
    yield from (f"{line}." for line in copies_not_tested_lines(not_tested))


def lens_sentences(one: LensFaults) -> Iterator[str]:
    """Yield what a photographer would say of a lens whose copy was tested, and of its spots."""
    told = clearest_copy(one)
    if told.copy.verdict is not CopyVerdict.NOT_TESTED:
        yield _sentence(f"{_at(told, one)}{copy_words(told.copy)}")
        if told.cause is not None:
            yield _sentence(cause_words(told.cause))
    wide = one.settings[0]
    if wide.worst is not None and (words := shape_words(*wide.worst)):
        yield _sentence(f"{_at(wide, one)}a star at {wide.worst[0].place} is {words}")
    told_stops = _worst_stops(one)
    if told_stops is not None and (words := stops_words(told_stops)):
        yield _sentence(f"at {told_stops.place} {words}")
    shown = [found for found in one.colours if found.shown]
    if shown:
        most = max(shown, key=lambda c: max(c.red_px or 0.0, c.blue_px or 0.0))
        yield _sentence(f"at {most.place} {colour_words(most)}")


def clearest_copy(one: LensFaults) -> SettingFaults:
    """Return the setting that says most of the copy: uneven first, then the largest ratio."""
    order = list(CopyVerdict)
    return min(
        one.settings,
        key=lambda s: (order.index(s.copy.verdict), -(s.copy.ratio or 0.0)),
    )


_LEAD = {
    CopyVerdict.UNEVEN: "Blurred unevenly, perhaps decentred, tilted or by the bench",
    CopyVerdict.SLIGHT: "Slightly uneven",
    CopyVerdict.NONE_SHOWN: "No fault of the copy shown",
}
_HEAD = ("setting", "worst place", "blur", "its shape", "copy", "worst over best", "by chance")
_STOPS_HEAD = ("over f-numbers", "from", "slope", "each stop leaves", "behind it")
_SHORT = {
    CopyVerdict.UNEVEN: "uneven",
    CopyVerdict.SLIGHT: "slightly uneven",
    CopyVerdict.NONE_SHOWN: "none shown",
    CopyVerdict.NOT_TESTED: NOT_TESTED,
}


def _row(one: SettingFaults, body: Body) -> tuple[str, ...]:
    copy, worst = one.copy, one.worst
    length = None if worst is None else worst[0].length_px
    blur = "" if length is None else percent(100 * (length.bound or 0.0) / body.picture_height_px)
    sign = "at most " if length is not None and length.value is None else ""
    return (
        f"{focal(one.result.setting.focal_mm)}, {f_number(one.result.setting.f_number)}",
        NOT_TESTED if worst is None else worst[0].place,
        sign + blur,
        "" if worst is None else short_shape(worst[1]),
        _SHORT[copy.verdict],
        _ratio(copy),
        "" if copy.chance is None else chance_words(copy.chance),
    )


def _ratio(copy: CopyFinding) -> str:
    if copy.ratio is None:
        return ""
    bound = "at least " if copy.at_least else ""
    return f"{bound}{copy.ratio:.2f}: {copy.worst_place}, {copy.best_place}"


def _stops_row(found: StopsFinding) -> tuple[str, ...]:
    return (
        f"{focal(found.focal_mm)}, {found.place}",
        ", ".join(f_number(mark) for mark in found.f_numbers),
        slope_words(found),
        left_words(found),
        SHORT[found.cause],
    )


def _worst_stops(one: LensFaults) -> StopsFinding | None:
    """The series at the place that is worst at the lens's widest setting."""
    wide = one.settings[0]
    if wide.worst is None:
        return None
    there = (wide.result.setting.focal_mm, wide.worst[0].place)
    return next((s for s in one.stops if (s.focal_mm, s.place) == there), None)


def _at(told: SettingFaults, one: LensFaults) -> str:
    if len(one.settings) == 1:
        return ""
    setting = told.result.setting
    several = len({s.result.setting.focal_mm for s in one.settings}) > 1
    zoom = f"{focal(setting.focal_mm)} " if several else ""
    return f"at {zoom}{f_number(setting.f_number)} "


def _sentence(words: str) -> str:
    return f"{words[0].upper()}{words[1:]}."
