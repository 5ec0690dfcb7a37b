"""The report of focus series on screen: the answer, the table, what could change it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby
from pathlib import Path

from nightglass.bench.focus.records import (
    AxisTurn,
    BestFocus,
    FieldFocus,
    FocusReport,
    FocusShift,
    PlaceSeries,
    PositionSource,
    Value,
    WavefrontFit,
)
from nightglass.bench.focus.wavefront import EVEN
from nightglass.show.columns import table_lines
from nightglass.show.focus.words import (
    DIRECTIONS,
    FIELD_FAULTS,
    LEFT_OUT,
    SOURCES,
    TERMS,
    TURNS,
    WAVEFRONT_FAULTS,
    bound_words,
    fault_words,
    listed,
    setting_words,
    sure,
    tilt_words,
    unit,
    value_words,
)
from nightglass.show.words import f_number

SHOWN_FILES = 6
MOST_SOURCE_PX = 0.5
TITLES = ("setting", "place", "best focus", "length there [px]", "sharp from", "to", "frames")
NUMBERS = TITLES[2:]


def report_lines(report: FocusReport, width: int | None, folder: Path) -> Iterator[str]:
    """Yield the answer, the table, then what stands behind it and what to do next.

    The report has at least one series.
    """
    yield answer(report)
    good = [place for place in report.places if place.best is not None]
    if good:
        yield ""
        yield from table_lines([TITLES, *(_row(place) for place in good)], width, NUMBERS)
        yield ""
    for place in report.places:
        if place.fault is not None:
            yield f"{setting_words(place.setting)}, {place.place}: {fault_words(place)}."
    for found in report.fields if good else ():
        yield from field_lines(found, report.places)
    for place in good:
        yield from place_lines(place)
    for shift in report.shifts:
        yield shift_line(shift)
    yield from _behind(report)
    yield from not_separated_lines(report)
    yield _next(report, folder)


def no_series_line(report: FocusReport) -> str:
    """Return what to do where no focus series is on record."""
    several = len(report.not_separated)
    word = "setting" if several == 1 else "settings"
    settings = f" ({several} {word})" if several else ""
    return (
        f"Focus not separated{settings}: no focus series is on record; take 5 to 9 frames of one "
        'setting through focus, give them series = "a name" and focus_mark under [[frames]] in '
        "bench.toml, and measure them"
    )


def answer(report: FocusReport) -> str:
    """Return the one sentence of the report."""
    good = [place for place in report.places if place.best is not None]
    if not good:
        return f"No best focus yet: {len(report.places)} series, none of them gives one."
    first = next((place for place in good if place.at_centre), good[0])
    best, depth = _best(first), first.depth
    near = ""
    if depth is not None:
        low, high = (bound_words(end, best.position) for end in (depth.low, depth.high))
        near = f"; from {low} to {high} its star stays within 1.2 times that size"
    return (
        f"{setting_words(first.setting)} is sharpest at {unit(first)} {value_words(best.position)} "
        f"({first.place}){near}."
    )


def _best(place: PlaceSeries) -> BestFocus:
    if place.best is None:
        raise ValueError(f"{place.place} has no best focus")
    return place.best


def _row(place: PlaceSeries) -> tuple[str, ...]:
    best, depth = _best(place), place.depth
    size = f"{best.size_px.value:.1f}"
    length = f"at most {size}" if best.size_is_bound else f"{size} +- {best.size_px.err:.1f}"
    ends = () if depth is None else (depth.low, depth.high)
    low, high = [bound_words(end, best.position) for end in ends] or ("", "")
    used = sum(frame.left_out is None for frame in place.frames)
    return (
        setting_words(place.setting), place.place, value_words(best.position), length, low, high,
        f"{used} of {len(place.frames)}",
    )  # fmt: skip


def field_lines(found: FieldFocus, places: Sequence[PlaceSeries]) -> Iterator[str]:
    """Yield the common focus and the curvature of one setting, or why there is none."""
    name = setting_words(found.setting)
    mine = [p for p in places if (p.series, p.setting) == (found.series, found.setting)]
    if found.compromise is None:
        if len(mine) > 1 and found.fault is not None:
            yield f"{name}: {FIELD_FAULTS[found.fault]}."
        return
    what = unit(mine[0])
    worst = max(found.places, key=lambda one: one.length_px)
    yield (
        f"{name}, whole frame: focus at {what} {value_words(found.compromise)}. The worst place, "
        f"{worst.place}, then has {worst.length_px:.1f} px, {worst.times_best:.2f} times its best."
    )
    if found.curvature is not None:
        yield _curvature_line(found, what)
    elif found.curvature_fault is not None:
        yield f"{name}: {FIELD_FAULTS[found.curvature_fault]}."
    if found.tilt is not None:
        yield f"{name}: {tilt_words(found.tilt, what)}."


def _curvature_line(found: FieldFocus, what: str) -> str:
    bent = found.curvature or Value(0.0, 0.0)
    name = setting_words(found.setting)
    if not sure(bent):
        return (
            f"{name}: no curvature of field found (corner less centre {value_words(bent)} {what}s)."
        )
    side = "above" if bent.value > 0 else "below"
    size = Value(abs(bent.value), bent.err)
    return (
        f"{name}: the field is curved: the corner's best focus lies {value_words(size)} {what}s "
        f"{side} the centre's."
    )


def place_lines(place: PlaceSeries) -> Iterator[str]:
    """Yield what the two directions of a place say, where they say something."""
    found = place.astigmatism
    if found is None or found.gap is None:
        return
    name = f"{setting_words(place.setting)}, {place.place}"
    if found.turn is AxisTurn.TURNS or sure(found.gap):
        first, second = ("along", "across") if place.at_centre else ("radial", "tangential")
        size = Value(abs(found.gap.value), found.gap.err)
        yield (
            f"{name}: {TURNS[found.turn]}; best focus {first} and {second} lie "
            f"{value_words(size)} {unit(place)}s apart."
        )


def wavefront_line(place: PlaceSeries, found: WavefrontFit) -> str:
    """Return the terms that stand out of their errors, with the misfit, or why there are none."""
    name = f"{setting_words(place.setting)}, {place.place}"
    misfit = "" if found.chi2_per_free is None else f" (chi^2 {found.chi2_per_free:.2g} per sample)"
    if found.fault is not None:
        return f"{name}: {WAVEFRONT_FAULTS[found.fault]}{misfit}."
    clear = [
        f"{TERMS[j]}, Noll {j}: {_signed(one, j in EVEN and found.towards is None)}"
        for j, one in found.terms.items()
        if sure(one)
    ]
    said = "; ".join(clear) if clear else "no term stands out of its error"
    step = ""
    if found.per_mark_um is not None:
        one = _signed(found.per_mark_um, found.towards is None)
        step = f"; defocus, Noll 4: {one} a {unit(place)}"
    return f"{name}: wavefront, um rms: {said}{step}{misfit}; {DIRECTIONS[found.towards]}."


def _signed(value: Value, sign_unknown: bool) -> str:
    return f"{value_words(value)} (sign not known)" if sign_unknown else value_words(value)


def shift_line(shift: FocusShift) -> str:
    """Return how best focus moves from one f-number to the next."""
    name = f"{shift.lens}, {shift.place}"
    pair = f"{f_number(shift.f_number_from)} to {f_number(shift.f_number_to)}"
    if not sure(shift.shift):
        return f"{name}: no focus shift found from {pair} ({value_words(shift.shift)} marks)."
    return (
        f"{name}: best focus moves by {value_words(shift.shift)} marks from {pair}: focus at the "
        "f-number that you use."
    )


def _behind(report: FocusReport) -> Iterator[str]:
    """What positions are, frames left out, limits of the sizes."""
    for source in sorted({place.position_source for place in report.places}):
        if source is not PositionSource.MARKS:
            yield f"Focus positions: {SOURCES[source]}."
    out = [(f.path, f.left_out) for p in report.places for f in p.frames if f.left_out is not None]
    for why, several in groupby(sorted(out, key=lambda pair: pair[1]), key=lambda pair: pair[1]):
        names = [path for path, _ in several]
        more = f" and {len(names) - SHOWN_FILES} more" if len(names) > SHOWN_FILES else ""
        yield f"Left out: {', '.join(names[:SHOWN_FILES])}{more}: {LEFT_OUT[why]}."
    if any(p.best is not None and p.best.size_is_bound for p in report.places):
        yield (
            "At most: the sharpest star is smaller than the sensor resolves; its depth is then a "
            "largest value too."
        )
    large = [p.source_px for p in report.places if (p.source_px or 0.0) > MOST_SOURCE_PX]
    if large:
        yield (
            f"The source's own image is up to {max(one or 0.0 for one in large):.1f} px wide and "
            "is part of the lengths; best focus does not move by it."
        )
    steps = [p for p in report.places if p.um_per_mark is not None and p.best is not None]
    for place in steps[:1]:
        yield (
            f"One {unit(place)} moves the focus by about {place.um_per_mark:.2g} um at the sensor "
            f"({setting_words(place.setting)}, from the growth of the blur)."
        )


def not_separated_lines(report: FocusReport) -> Iterator[str]:
    """Yield which settings of the ranking may owe blur to their focus."""
    if report.not_separated:
        names = [setting_words(one) for one in report.not_separated]
        more = f" and {len(names) - SHOWN_FILES} more" if len(names) > SHOWN_FILES else ""
        shown = "; ".join(names[:SHOWN_FILES])
        yield (
            f"Focus not separated, no series of their own: {shown}{more}. Their blur holds the "
            "error of focusing."
        )


def _next(report: FocusReport, folder: Path) -> str:
    faulty = [place for place in report.places if place.fault is not None]
    if faulty:
        names = listed([f"{setting_words(p.setting)}, {p.place}" for p in faulty[:3]])
        return f"Next: take again, with best focus in the middle of 5 to 9 steps: {names}"
    marks = any(place.position_source is PositionSource.MARKS for place in report.places)
    if not marks:
        return "Next: type the ring's marks as focus_mark in bench.toml, to set them again outside"
    first = next((p for p in report.places if p.at_centre), report.places[0])
    mark = f"{unit(first)} {_best(first).position.value:.3g}"
    return f'Next: set {mark} on the ring and shoot the repeats; then  nightglass rank "{folder}"'
