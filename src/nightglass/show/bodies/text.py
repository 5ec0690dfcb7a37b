"""The report of one lens on several bodies: sentences, table, what can't be compared."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby

from nightglass.bench.across.records import (
    BodiesReport,
    BodiesVerdict,
    PlaceOnTwoBodies,
    UnpairedReason,
)
from nightglass.show.bodies.words import (
    length_words,
    pair_words,
    percent_apart,
    place_words,
    setting_words,
    unpaired_words,
)
from nightglass.show.body_words import names_words
from nightglass.show.columns import Part, Table, lines_of

MOST_SENTENCES = 12
"""More pairs than this: sentences only for those that differ, the table has them all."""
NUMBERS = ("px", "um", "% of height")


def report_lines(report: BodiesReport, width: int | None) -> Iterator[str]:
    """Yield the report as lines; width: of the terminal, None for a file."""
    yield from lines_of(report_parts(report), width)


def report_parts(report: BodiesReport) -> Iterator[Part]:
    """Yield the answer, a sentence for each place, the table, what can't be compared, the notes."""
    yield answer(report)
    if report.pairs:
        yield ""
        yield from _sentences(report.pairs)
        yield ""
        yield _table(report.pairs)
    told = list(_not_compared(report))
    if told:
        yield ""
        yield from told
    if report.pairs:
        yield ""
        yield from _notes(report)


def answer(report: BodiesReport) -> str:
    """Return the one sentence of the report."""
    if not report.pairs:
        return (
            "No lens was measured at the same image height on two of these bodies: "
            f"{names_words(report.bodies)}."
        )
    sure = [p for p in report.pairs if p.verdict in (BodiesVerdict.LONGER, BodiesVerdict.SHORTER)]
    same = [p for p in report.pairs if p.verdict is BodiesVerdict.SAME]
    known = len(sure) + len(same)
    if not known:
        return "Nothing can be said of a difference between the bodies: see each place."
    places = "place" if known == 1 else "places"
    if not sure:
        return (
            f"Once the pixels are taken out, no difference between the bodies shows in {known} "
            f"{places}."
        )
    return (
        f"Once the pixels are taken out, the bodies differ in {len(sure)} of {known} {places}, "
        "beyond the errors."
    )


def fault_of(report: BodiesReport) -> str | None:
    """Return why the command failed; None where something was compared."""
    return None if report.pairs else answer(report)


def _sentences(pairs: Sequence[PlaceOnTwoBodies]) -> Iterator[str]:
    shown = list(pairs)
    if len(pairs) > MOST_SENTENCES:
        shown = [p for p in pairs if p.verdict is not BodiesVerdict.SAME]
    yield from (pair_words(pair) for pair in shown)
    if len(shown) < len(pairs):
        count = len(pairs) - len(shown)
        yield f"The same within the errors in the other {count} (the table has them)."


def _table(pairs: Sequence[PlaceOnTwoBodies]) -> Table:
    titles = ("setting", "image height", "body", *NUMBERS, "as measured", "by pixels alone",
              "pixels taken out")  # fmt: skip
    rows: list[tuple[str, ...]] = []
    for pair in pairs:
        name = setting_words(pair.lens, pair.focal_mm, pair.f_number)
        for size in (pair.one, pair.other):
            first = size is pair.one
            px = "at limit" if size.length_px is None else f"{size.length_px:.2f}"
            share = "" if size.length_percent is None else f"{size.length_percent:.3f}"
            rows.append((name if first else "", place_words(size), size.body, px,
                         length_words(size).removesuffix(" um"), share,
                         *(("", "", "") if first else _ratios(pair))))  # fmt: skip
    return Table(titles, tuple(rows), NUMBERS, indent="")


def _ratios(pair: PlaceOnTwoBodies) -> tuple[str, str, str]:
    if pair.ratio is None or pair.left is None or pair.from_pixels is None:
        return "", "", ""
    pixels = f"{100 * (pair.from_pixels - 1):+.1f} +- {100 * (pair.from_pixels_err or 0):.1f} %"
    return percent_apart(pair.ratio), pixels, percent_apart(pair.left)


def _not_compared(report: BodiesReport) -> Iterator[str]:
    words = dict.fromkeys(unpaired_words(one) for one in report.unpaired)
    yield from words
    for body, group in groupby(sorted(report.on_one_only, key=lambda one: one[1]), lambda x: x[1]):
        yield f"{names_words(tuple(lens for lens, _ in group))}: measured on {body} only"


def _notes(report: BodiesReport) -> Iterator[str]:
    yield (
        f"Compared are places within {report.tolerance_mm:.1f} mm of each other on the sensors. "
        "Square pixels are taken out of both lengths; what the cover glass and the filters of a "
        "sensor add is not known and stays in."
    )
    if not report.refocused:
        yield (
            "bench.toml does not say that the lens was focused anew for each frame (refocused = "
            "true): another focus on the second body would look like another sensor."
        )


def next_line(report: BodiesReport, folder: str) -> str:
    """Return the one next step. folder: as the commands take it."""
    missing = [o for o in report.unpaired if o.reason is UnpairedReason.NOT_AT_THIS_HEIGHT]
    if missing:
        return (
            "Next: take frames with the star where the lines above say, add a [[place]] for it, "
            f"then  nightglass measure {folder}"
        )
    if not report.pairs:
        return (
            "Next: copy frames of one lens setting on both bodies below frames/, then  "
            f"nightglass measure {folder}"
        )
    return f"Next: rank the lenses on either body with  nightglass rank {folder} --body NAME"
