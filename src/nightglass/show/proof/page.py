"""One self-contained page of bench against sky: the verdict first, then what it rests on."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Any

from nightglass.gear.lens import LensSetting
from nightglass.proof.assumptions import ProofAssumption
from nightglass.proof.records import PlaceProof, Proof, SettingProof
from nightglass.show.page import made, render
from nightglass.show.plan.caution_words import OF_THE_NIGHT
from nightglass.show.proof.assumptions import assumption_rows
from nightglass.show.proof.causes import cause_words
from nightglass.show.proof.pairs import ABOUT_PAIRS, star_pairs
from nightglass.show.proof.tables import (
    ABOUT_NIGHT,
    ABOUT_PLACES,
    NIGHT_HEADS,
    PLACE_HEADS,
    night_rows,
    place_rows,
    tested_words,
)
from nightglass.show.proof.text import (
    HOW,
    NO_DIFFERENCE,
    frame_words,
    place_notes,
    size_words,
)
from nightglass.show.proof.verdict import (
    next_step_words,
    order_lines,
    setting_words,
    verdict_words,
)
from nightglass.show.words import percent
from nightglass.verdict.codes import Assumption

PAGE, TITLE = "proof.html", "Bench against sky"
ORDER_HEADS = (
    ("setting", ""), ("", ""), ("order", "number"), ("largest place", ""),
    ("% of height", "number"), ("px (95 %)", "span"),
)  # fmt: skip
ABOUT_ORDER = (
    "By the largest of the places that every setting has on both sides; the lens alone, the stars' "
    "motion taken out. The smallest is first. A pair of settings is decided where its sizes differ "
    "beyond the errors on both sides, all pairs together at 95 %; tau's interval lets each "
    "undecided pair fall either way."
)
ABOUT_CHART = (
    "Coloured marks: the comparison that decides a place, as measured where stars stand about it, "
    "else the lens alone. Grey rings: the lens alone where as measured decides."
)


def proof_html(
    proof: Proof,
    assumed: Sequence[Assumption | ProofAssumption],
    chart_svg: str | None = None,
    hints: Sequence[str] = (),
    name: str = "",
) -> str:
    """Return the page; everything that a person typed is escaped.

    chart_svg: the chart of sky against bench, None where nothing could be drawn. hints: what else
    a reader must know ([[frames]] tables that fit no file). name: of the bench.
    """
    ranked = [one for one in proof.settings if one.bench_worst and one.sky_worst]
    pictures = any(size.picture for frame in proof.frames for size in frame.redrawn_sizes)
    return render(
        "proof.html",
        title=TITLE,
        counts=_counts(proof, name),
        verdict=_capital(verdict_words(proof.verdict)),
        next=next_step_words(proof.next_step),
        hints=hints,
        chart=None if chart_svg is None else made(chart_svg),
        order_heads=ORDER_HEADS,
        order_rows=_order_rows(ranked, proof.picture_height_px),
        order_lines=_order_lines(proof, ranked),
        place_heads=PLACE_HEADS,
        night_heads=NIGHT_HEADS,
        settings=[_setting(proof, one) for one in proof.settings],
        frames=[
            (f.file, f.reason is None, frame_words(f).removeprefix(f"{f.file}: "))
            for f in proof.frames
        ],
        how=_capital(HOW),
        assumed=list(assumption_rows(assumed)),
        cautions=OF_THE_NIGHT,
        about={
            "chart": ABOUT_CHART,
            "order": ABOUT_ORDER,
            "tables": [ABOUT_PAIRS if pictures else "", ABOUT_PLACES, ABOUT_NIGHT],
        },
    )


def _counts(proof: Proof, name: str) -> str:
    used = sum(frame.reason is None for frame in proof.frames)
    left = len(proof.frames) - used
    counts = f"{_count(used, 'frame')} of the sky compared, {left} not compared"
    parts = [name, _count(len(proof.settings), "setting"), counts]
    return "; ".join(part for part in parts if part)


def _capital(words: str) -> str:
    return words[0].upper() + words[1:]


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def _order_rows(
    ranked: Sequence[SettingProof], height_px: float
) -> list[tuple[str, list[list[tuple[str, str]]]]]:
    """Each setting with its row for the bench and one for the sky."""
    bench = sorted(ranked, key=lambda one: _size(one.bench_worst, "bench_px"))
    sky = sorted(ranked, key=lambda one: _size(one.sky_worst, "sky_px"))
    rows = []
    for k, one in enumerate(bench, start=1):
        sides = (("bench", one.bench_worst, k), ("sky", one.sky_worst, sky.index(one) + 1))
        cells = [
            _order_cells(side, place, rank, height_px)
            for side, place, rank in sides
            if place is not None
        ]
        rows.append((setting_words(one.setting), cells))
    return rows


def _order_cells(
    side: str, place: PlaceProof, rank: int, height_px: float
) -> list[tuple[str, str]]:
    """Class and text of every cell."""
    size = _size(place, f"{side}_px")
    return [
        ("", side),
        ("number", f"{rank}"),
        ("", place.place),
        ("number", percent(100 * size / height_px)),
        ("span", size_words(size, getattr(place, f"{side}_span"))),
    ]


def _order_lines(proof: Proof, ranked: Sequence[SettingProof]) -> list[str]:
    lines = [*order_lines(proof), *_undecided(proof.pairs_open)]
    lines += [
        f"{setting_words(one.setting)}: no size on both bench and sky at a place of every setting"
        for one in proof.settings
        if one not in ranked
    ]
    lines += [f"{setting_words(one)}: no frame of the sky" for one in proof.not_on_sky]
    return [line.strip() for line in lines]


def _undecided(pairs: Sequence[tuple[LensSetting, LensSetting]]) -> Iterator[str]:
    for tighter, wider in pairs:
        yield f"undecided: {setting_words(tighter)} and {setting_words(wider)}"


def _size(place: PlaceProof | None, of: str) -> float:
    value = None if place is None else getattr(place, of)
    return math.inf if value is None else float(value)


def _setting(proof: Proof, one: SettingProof) -> dict[str, Any]:
    own = {frame.file: frame for frame in proof.frames if frame.file in one.files}
    height_px = proof.picture_height_px
    causes = [cause_words(cause) for cause in one.causes]
    compared = any(place.compared for place in one.places) or bool(one.nights)
    return {
        "name": setting_words(one.setting),
        "files": ", ".join(own),
        "pairs": star_pairs(one, list(own.values()), height_px, _half_px(proof)),
        "places": place_rows(one, height_px),
        "place_notes": place_notes(one),
        "nights": night_rows(one),
        "tested": tested_words(one.nights),
        "cause_lines": (causes or [NO_DIFFERENCE]) if compared else [],
        "causes": causes,
    }


def _half_px(proof: Proof) -> int:
    """Half side of all tiles of the page: the largest star fits, if every crop holds as much."""
    pictures = [redrawn.picture for frame in proof.frames for redrawn in frame.redrawn_sizes]
    shown = [picture for picture in pictures if picture is not None]
    if not shown:
        return 0
    return min(max(p.reach_px for p in shown), min(p.sky.shape[0] // 2 for p in shown))
