"""Tables of one setting on the page of bench against sky: places, light, limit, stars, glow."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from nightglass.proof.records import FrameNight, PlaceProof, Prediction, SettingProof
from nightglass.show.proof.reasons import prediction_reason_words
from nightglass.show.proof.text import (
    NOT_CONFIRMED,
    height_words,
    marked,
    place_comparisons,
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


def place_rows(one: SettingProof, height_px: float) -> list[dict[str, Any]] | None:
    """Return the rows of a setting's compared places, two ways each; None without any place."""
    if not one.places:
        return None
    return [_place_row(place, height_px) for place in one.places if place.compared]


def _place_row(place: PlaceProof, height_px: float) -> dict[str, Any]:
    rows = []
    for way in place_comparisons(place):
        bench, sky = (height_words(size, height_px) for size in (way.bench_px, way.sky_px))
        name = f"{way.name}, {way.stars} stars"
        rows.append({"name": name, **_cells(bench, sky, way.ratio, way.words)})
    return {"name": marked(place), "ways": rows}


def night_rows(one: SettingProof) -> list[tuple[str, list[dict[str, Any]]]]:
    """Return light, limit, stars and glow of a setting's frames, by file."""
    return [
        (file, [_against(getattr(night, kind), kind) for kind in KINDS])
        for file, night in one.nights
    ]


def _against(said: Prediction, kind: str) -> dict[str, Any]:
    label, digits = KINDS[kind]
    predicted, found = (
        "" if value is None else f"{value:{digits}}" for value in (said.predicted, said.found)
    )
    words = COUNT_SIDES[said.differs]
    if said.reason is not None:
        words = f"can't be told: {prediction_reason_words(said.reason)}"
    signed = "+.2f" if kind == "limit" else ".2f"
    return {"name": label, **_cells(predicted, found, said.ratio, words, signed)}


def _cells(
    left: str, right: str, ratio: Interval | None, words: str, digits: str = ".2f"
) -> dict[str, Any]:
    """Both values, their ratio and what it says; strong where it decides something."""
    value = "" if ratio is None else size_words(ratio.value, ratio, digits)
    plain = ratio is None or words.endswith(NOT_CONFIRMED)
    return {
        "left": left, "right": right, "ratio": value, "words": words,
        "strong": bool(words) and not plain,
    }  # fmt: skip


def tested_words(nights: Sequence[tuple[str, FrameNight]]) -> str:
    """Return over how much of the frame stars and limit are compared; empty for all of it."""
    share = min((night.tested_share for _, night in nights), default=1.0)
    return "" if share > 0.995 else f"Stars and limit over {100 * share:.0f} % of the frame."
