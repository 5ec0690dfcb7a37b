"""Tables of one setting on the page of bench against sky: places, light, limit, stars, glow."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from html import escape

from nightglass.proof.records import FrameNight, PlaceProof, Prediction, SettingProof
from nightglass.show.page import bullets, head_row
from nightglass.show.proof.reasons import prediction_reason_words
from nightglass.show.proof.text import (
    NOT_CONFIRMED,
    height_words,
    marked,
    place_comparisons,
    place_notes,
    size_words,
)
from nightglass.verdict.records import Interval

PLACE_HEADS = (
    ("place", ""), ("", ""), ("bench, % of height (px)", "number"),
    ("sky, % of height (px)", "number"), ("sky over bench (95 %)", "span"),
)  # fmt: skip
NIGHT_HEADS = (
    ("", ""), ("predicted", "number"), ("found", "number"), ("found over predicted (95 %)", "span"),
)  # fmt: skip
ABOUT_PLACES = (
    "Places: lens alone is the lens's own spot, the stars' motion taken out. As measured: the "
    "bench's spot drawn in the place of the frame's own stars, trails in, both measured alike; "
    "it decides where both are known. Sizes: length of a long spot, else the root of length times "
    "width"
)
ABOUT_NIGHT = (
    "Night: stars is their number in the open sky near measured places; limit the faintest star, "
    "its difference found minus predicted; light the zero point, its ratio one of light; glow the "
    "signal-to-noise of the Milky Comparison's even light per square degree"
)
KINDS = {
    "stars": ("stars", ".0f"),
    "limit": ("limit, G mag", ".2f"),
    "light": ("light, G mag", ".2f"),
    "glow": ("glow, SNR", ".3g"),
}
COUNT_SIDES = {1: "more than predicted", -1: "less than predicted", 0: ""}


def places_html(one: SettingProof, height_px: float) -> Iterator[str]:
    """Yield the table of a setting's places, two rows each; nothing for a setting without any."""
    if not one.places:
        return
    yield "<h3>Place by place</h3>"
    compared = [place for place in one.places if place.compared]
    if compared:
        rows = "".join(_place_rows(place, height_px) for place in compared)
        yield f'<div class="wide"><table>{head_row(PLACE_HEADS)}{rows}</table></div>'
    yield bullets(place_notes(one))


def _place_rows(place: PlaceProof, height_px: float) -> str:
    ways = list(place_comparisons(place))
    name = f'<td class="name" rowspan="{len(ways)}">{escape(marked(place))}</td>'
    rows = ""
    for k, way in enumerate(ways):
        bench, sky = (height_words(size, height_px) for size in (way.bench_px, way.sky_px))
        cells = _cells(bench, sky, way.ratio, way.words)
        rows += f"<tr>{'' if k else name}<td>{way.name}, {way.stars} stars</td>{cells}</tr>"
    return rows


def nights_html(one: SettingProof) -> Iterator[str]:
    """Yield light, limit, stars and glow of a setting's frames; nothing where none could be."""
    if not one.nights:
        return
    yield "<h3>Light, limit, stars and glow, as bench and night predict them, and as found</h3>"
    rows = "".join(_night_rows(file, night) for file, night in one.nights)
    yield f'<div class="wide"><table>{head_row(NIGHT_HEADS)}{rows}</table></div>'
    yield _over(one.nights)


def _night_rows(file: str, night: FrameNight) -> str:
    rows = f'<tr><td class="name" colspan="4">{escape(file)}</td></tr>'
    for kind, (label, _) in KINDS.items():
        said: Prediction = getattr(night, kind)
        rows += f"<tr><td>{label}</td>{_against(said, kind)}</tr>"
    return rows


def _against(said: Prediction, kind: str) -> str:
    predicted, found = (
        "" if value is None else f"{value:{KINDS[kind][1]}}"
        for value in (said.predicted, said.found)
    )
    words = COUNT_SIDES[said.differs]
    if said.reason is not None:
        words = f"can't be told: {prediction_reason_words(said.reason)}"
    signed = "+.2f" if kind == "limit" else ".2f"
    return _cells(predicted, found, said.ratio, words, signed)


def _cells(left: str, right: str, ratio: Interval | None, words: str, digits: str = ".2f") -> str:
    value = "" if ratio is None else size_words(ratio.value, ratio, digits)
    numbers = (f'<td class="number">{escape(cell)}</td>' for cell in (left, right))
    plain = ratio is None or words.endswith(NOT_CONFIRMED)
    said = escape(words) if plain or not words else f"<b>{escape(words)}</b>"
    lines = "<br>".join(line for line in (escape(value), said) if line)
    return f'{"".join(numbers)}<td class="span">{lines}</td>'


def _over(nights: Sequence[tuple[str, FrameNight]]) -> str:
    share = min(night.tested_share for _, night in nights)
    if share > 0.995:
        return ""
    return f'<p class="soft">Stars and limit over {100 * share:.0f} % of the frame.</p>'
