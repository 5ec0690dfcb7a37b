"""What flats say, in words: one sentence for each code, and the report."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from nightglass.bench.flats.records import FlatFault, FlatFrame, FlatReport, SettingFalloff
from nightglass.show.columns import Part, Table, lines_of
from nightglass.show.words import f_number, setting_title

FAULTS: dict[FlatFault, str] = {
    FlatFault.UNREADABLE: "can't be read: {detail}",
    FlatFault.NO_MOSAIC: "holds no raw mosaic: light is measured on the raw file only",
    FlatFault.NOT_OF_BENCH: "{detail}",
    FlatFault.SAME_FILE: "the same file as {detail}",
    FlatFault.CLIPPED: "too bright: green counts reach 95 % of clipping; shorten the exposure",
    FlatFault.TOO_DARK: "too dark: the darkest part holds under 50 counts above black; "
    "expose longer",
    FlatFault.NOT_EVEN: "not evenly lit: a scene, a lamp in the picture, or the lens cap half on; "
    "fill the whole frame with a plain white surface",
}
SHOWN_FILES = 8
ALONE = 1
DOUBT_MAG = 0.1
"""A bent light of this size is worth a word: a tenth of a magnitude is 9 % in the corner."""


def report_lines(report: FlatReport, width: int | None = None) -> Iterator[str]:
    """Yield the report as lines; width: of the terminal, None for a file."""
    yield from lines_of(report_parts(report), width)


def report_parts(report: FlatReport) -> Iterator[Part]:
    """Yield the answer, the table, lens against lens, what the errors hold, files left out."""
    yield answer(report)
    if report.settings:
        yield ""
        yield _table(report.settings)
    if report.light:
        yield ""
        yield from light_lines(report)
    yield ""
    if report.settings:
        yield from _known_of_it(report)
    yield from left_out_lines(report.frames)


def answer(report: FlatReport) -> str:
    """Return the one sentence of the report."""
    if not report.settings:
        return "No falloff could be measured: no frame in flats/ is of use."
    darkest = max(report.settings, key=lambda one: one.corner_flat_stops)
    evenest = min(report.settings, key=lambda one: one.corner_flat_stops)
    first = (
        f"The corners of {setting_words(darkest)} get {_stops(darkest)} stops less light than the "
        "centre"
    )
    if darkest is evenest:
        return first + "."
    return f"{first}; those of {setting_words(evenest)} {_stops(evenest)}."


def setting_words(one: SettingFalloff) -> str:
    """Return a setting as the person says it."""
    return setting_title(one.setting)


def light_lines(report: FlatReport) -> Iterator[str]:
    """Yield how much light each lens passes against the reference, and on what it rests."""
    yield f"Light at the same marked f-number, {report.reference} = 1, if the light never changed:"
    for one in report.light:
        marks = ", ".join(f_number(n) for n in one.f_numbers)
        yield f"  {one.lens}  {one.times:.3f} +- {one.err:.3f}  (at {marks})"


def left_out_lines(frames: Sequence[FlatFrame]) -> Iterator[str]:
    """Yield each file that was left out, with its reason."""
    out = [one for one in frames if one.fault is not None]
    if out:
        yield f"Left out: {len(out)} of {len(frames)} files"
    for one in out[:SHOWN_FILES]:
        yield f"  {one.name}: {fault_words(one)}"
    if len(out) > SHOWN_FILES:
        yield f"  and {len(out) - SHOWN_FILES} more (--json names all)"


def fault_words(frame: FlatFrame) -> str:
    """Return why a frame was left out. Raises ValueError for one that was used."""
    if frame.fault is None:
        raise ValueError(f"{frame.name} was used: it has no fault to word")
    return FAULTS[frame.fault].format(detail=frame.detail)


def _stops(one: SettingFalloff) -> str:
    return f"{one.corner_flat_stops:.2f} +- {one.falloff.stops_err(1.0):.2f}"


def _table(settings: Sequence[SettingFalloff]) -> Table:
    head = ("setting", "corner [stops]", "of it the lens's opening", "half-way", "frames")
    return Table(head, tuple(_row(one) for one in settings), head[1:], indent="")


def _row(one: SettingFalloff) -> tuple[str, ...]:
    half = one.falloff.stops(0.5)
    return (
        setting_words(one), _stops(one), f"{one.falloff.corner_stops:.2f}", f"{half:.2f}",
        str(len(one.frames)),
    )  # fmt: skip


def _known_of_it(report: FlatReport) -> Iterator[str]:
    yield (
        "A light brighter on one side is told from the lens and taken out. A light that fades "
        "evenly to all sides is not: its size is guessed from the rest of its unevenness and "
        "stands in the error."
    )
    bent = [
        one for one in report.frames if one.shading is not None and one.shading.bent_mag > DOUBT_MAG
    ]
    if bent:
        yield (
            f"Uneven light in {len(bent)} of {len(report.frames)} frames: stand farther from the "
            "surface, or put white paper before the lens, and take them again."
        )
    if any(len(one.frames) == ALONE for one in report.settings):
        yield "A setting with one frame has nothing to be checked against: take two, turned."
