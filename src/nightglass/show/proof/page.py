"""One self-contained page of bench against sky: the verdict first, then what it rests on."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from html import escape

from nightglass.gear.lens import LensSetting
from nightglass.plan.cautions import CAUTIONS
from nightglass.proof.assumptions import ProofAssumption
from nightglass.proof.records import PlaceProof, Proof, SettingProof
from nightglass.show.page import bullets, facts_table, head_row, page_html
from nightglass.show.proof.assumptions import assumption_rows
from nightglass.show.proof.causes import cause_words
from nightglass.show.proof.pairs import ABOUT_PAIRS, pairs_html
from nightglass.show.proof.tables import ABOUT_NIGHT, ABOUT_PLACES, nights_html, places_html
from nightglass.show.proof.text import (
    HOW,
    NO_DIFFERENCE,
    frame_words,
    size_words,
)
from nightglass.show.proof.verdict import (
    next_step_words,
    order_lines,
    setting_words,
    verdict_words,
)
from nightglass.show.words import percent
from nightglass.verdict.records import Assumption

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
    parts = [
        *_verdict(proof, hints, name),
        *_chart(chart_svg),
        *_order(proof),
        *_settings(proof),
        *_frames(proof),
        *_ground(proof, assumed),
    ]
    return page_html(TITLE, parts)


def _verdict(proof: Proof, hints: Sequence[str], name: str) -> Iterator[str]:
    used = sum(frame.reason is None for frame in proof.frames)
    left = len(proof.frames) - used
    counts = f"{_count(used, 'frame')} of the sky compared, {left} not compared"
    parts = [name, _count(len(proof.settings), "setting"), counts]
    yield f'<p class="soft">{escape("; ".join(part for part in parts if part))}</p>'
    said = verdict_words(proof.verdict)
    yield f'<p class="lead verdict">{escape(said[0].upper() + said[1:])}.</p>'
    yield f"<p>Next: {escape(next_step_words(proof.next_step))}.</p>"
    yield bullets(hints) if hints else ""


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def _chart(svg: str | None) -> Iterator[str]:
    if svg is None:
        yield "<p>No chart: no place has a size on both bench and sky.</p>"
        return
    yield f'<figure class="chart">{svg}</figure><p class="soft">{ABOUT_CHART}</p>'


def _order(proof: Proof) -> Iterator[str]:
    yield "<h2>Setting by setting</h2>"
    if not proof.settings:
        yield "<p>No setting of the bench has a frame of the sky.</p>"
    ranked = [one for one in proof.settings if one.bench_worst and one.sky_worst]
    if ranked:
        bench = sorted(ranked, key=lambda one: _size(one.bench_worst, "bench_px"))
        sky = sorted(ranked, key=lambda one: _size(one.sky_worst, "sky_px"))
        rows = "".join(
            _order_row(one, (k, sky.index(one) + 1), proof.picture_height_px)
            for k, one in enumerate(bench, start=1)
        )
        yield f'<div class="wide"><table>{head_row(ORDER_HEADS)}{rows}</table></div>'
    lines = [*order_lines(proof), *_undecided(proof.pairs_open)]
    lines += [
        f"{setting_words(one.setting)}: no size on both bench and sky at a place of every setting"
        for one in proof.settings
        if one not in ranked
    ]
    lines += [f"{setting_words(one)}: no frame of the sky" for one in proof.not_on_sky]
    yield bullets(line.strip() for line in lines)
    yield f'<p class="soft">{ABOUT_ORDER}</p>' if ranked else ""


def _undecided(pairs: Sequence[tuple[LensSetting, LensSetting]]) -> Iterator[str]:
    for tighter, wider in pairs:
        yield f"undecided: {setting_words(tighter)} and {setting_words(wider)}"


def _size(place: PlaceProof | None, of: str) -> float:
    value = None if place is None else getattr(place, of)
    return math.inf if value is None else float(value)


def _order_row(one: SettingProof, ranks: tuple[int, int], height_px: float) -> str:
    """A setting's row for the bench and one for the sky."""
    rows = ""
    sides = ("bench", one.bench_worst), ("sky", one.sky_worst)
    for rank, (side, place) in zip(ranks, sides, strict=True):
        if place is None:
            continue
        size = _size(place, f"{side}_px")
        cells = (
            ("", side),
            ("number", f"{rank}"),
            ("", place.place),
            ("number", percent(100 * size / height_px)),
            ("span", size_words(size, getattr(place, f"{side}_span"))),
        )
        name = f'<td rowspan="2">{escape(setting_words(one.setting))}</td>'
        row = "".join(f'<td class="{kind}">{escape(text)}</td>' for kind, text in cells)
        rows += f"<tr>{'' if rows else name}{row}</tr>"
    return rows


def _settings(proof: Proof) -> Iterator[str]:
    for one in proof.settings:
        yield _setting(proof, one, proof.picture_height_px)
    if proof.settings:
        pictures = any(redrawn.picture for frame in proof.frames for redrawn in frame.redrawn_sizes)
        lines = [ABOUT_PAIRS if pictures else "", ABOUT_PLACES, ABOUT_NIGHT]
        yield f'<section class="flow"><h2>How to read stars and tables</h2>{bullets(lines)}'
        yield "</section>"


def _setting(proof: Proof, one: SettingProof, height_px: float) -> str:
    own = {frame.file: frame for frame in proof.frames if frame.file in one.files}
    parts = [
        f"<section><h2>{escape(setting_words(one.setting))}</h2>",
        f'<p class="soft">{escape(", ".join(own))}</p>',
        *pairs_html(one, list(own.values()), height_px, _half_px(proof)),
        *places_html(one, height_px),
        *nights_html(one),
    ]
    compared = any(place.compared for place in one.places) or one.nights
    if compared:
        parts.append("<h3>Which known cause fits</h3>")
        parts.append(bullets([cause_words(cause) for cause in one.causes] or [NO_DIFFERENCE]))
    if one.causes:
        parts.append(
            '<p class="soft">A cause that fits is not proved: change that one thing and shoot '
            "again.</p>"
        )
    return "".join([*parts, "</section>"])


def _half_px(proof: Proof) -> int:
    """Half side of all tiles of the page: the largest star fits, if every crop holds as much."""
    pictures = [redrawn.picture for frame in proof.frames for redrawn in frame.redrawn_sizes]
    shown = [picture for picture in pictures if picture is not None]
    if not shown:
        return 0
    return min(max(p.reach_px for p in shown), min(p.sky.shape[0] // 2 for p in shown))


def _frames(proof: Proof) -> Iterator[str]:
    yield '<section class="flow"><h2>Every frame</h2>'
    heads = head_row((("frame", ""), ("", ""), ("what it holds, or why it is not compared", "")))
    rows = "".join(
        f'<tr><td class="name">{escape(frame.file)}</td>'
        f"<td>{'used' if frame.reason is None else '<b>not used</b>'}</td>"
        f"<td>{escape(frame_words(frame).removeprefix(f'{frame.file}: '))}</td></tr>"
        for frame in proof.frames
    )
    yield f'<table class="frames">{heads}{rows}</table>'
    yield '<p class="soft">None is left out for disagreeing.</p></section>'


def _ground(proof: Proof, assumed: Sequence[Assumption | ProofAssumption]) -> Iterator[str]:
    yield '<section class="flow"><h2>What was compared, and assumed</h2>'
    yield f"<p>{escape(HOW[0].upper() + HOW[1:])}.</p>"
    yield facts_table(assumption_rows(assumed))
    yield "<h3>Before you go out again</h3>"
    yield "<p>This page advises on photographs, not on safety. Local rules and licensed practice "
    yield f"come first.</p>{bullets(CAUTIONS)}</section>"
