"""Per lens: the map of blur over zoom and f-number, and the light beside it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import altair as alt

from nightglass.show.chart_style import (
    BLUR_RAMP,
    INK,
    LIGHT_RAMP,
    PAPER,
    SOFT,
    rows_of,
    shortened,
    styled,
)
from nightglass.show.ranking.points import TOLD, told
from nightglass.show.words import f_number, focal, percent
from nightglass.verdict.records import Ranking, Worth, ZoomJump

CELL_PX = (88, 50)
COLUMNS_BESIDE = 6
"""With more zoom positions the light stands under the blur, so that text stays readable at A5."""
_AT_MOST = "\N{LESS-THAN OR EQUAL TO}"


def lens_map_chart(lens: str, ranking: Ranking) -> Any:
    """Return two maps of one lens, side by side: blur of the worst place, and light (score).

    Rows are f-numbers, columns focal lengths; each cell carries its number. A cell that nobody
    tested says so. The setting that stands in the ranking is framed; a triangle marks blur over
    the limit; a zoom position where blur jumps is named above its column. Raises ValueError for
    a lens without a judged setting.
    """
    worths = [worth for worth in ranking.worths if worth.setting.lens == lens]
    if not worths:
        known = ", ".join(sorted({worth.setting.lens for worth in ranking.worths})) or "none"
        raise ValueError(f'no setting of "{lens}" was judged; lenses with settings: {known}')
    best = next((s.worth for s in ranking.standings if s.worth.setting.lens == lens), None)
    jumps = ranking.jumps_of(lens)
    cells = _cells(worths, best)
    # One scale for all lenses, so that their maps can be laid side by side.
    top = max(w.lens_tightness_percent for w in ranking.worths)
    brightest = max(w.score.value for w in ranking.worths)
    for cell in cells:
        _colour(cell, top, brightest)
    heads = [_head(focal_mm, jumps) for focal_mm in _focals(worths)]
    blur = _panel(cells, heads, ("blur_text", "blur_fill", "blur_ink"), "Blur (% of height)")
    light = _panel(cells, heads, ("light_text", "light_fill", "light_ink"), "Light (score)")
    beside = len(heads) <= COLUMNS_BESIDE
    chart = (alt.hconcat if beside else alt.vconcat)(blur, light, spacing=44)
    return styled(chart, shortened(lens, 60), _lines(ranking, worths, tuple(jumps.values())))


def _lines(ranking: Ranking, worths: Sequence[Worth], jumps: Sequence[ZoomJump]) -> list[str]:
    lines = [
        "Blur of the worst place, without trail. Framed: the setting in the ranking.",
        "Dark is worse in both maps, more blur or less light, on one scale for all lenses. Empty: "
        "not tested.",
    ]
    if any(not worth.eligible for worth in worths):
        lines.append("Triangle: over your limit.")
    if any(worth.at_limit for worth in worths):
        lines.append(f"{_AT_MOST}: at limit, a 95 % upper bound.")
    lines += [
        f"Blur jumps at {focal(jump.focal_mm)}: {jump.ratio:.1f} times that of the zoom positions "
        "beside it."
        for jump in jumps
    ]
    return lines


def _focals(worths: Sequence[Worth]) -> list[float]:
    return sorted({worth.setting.focal_mm for worth in worths})


def _head(focal_mm: float, jumps: Mapping[float, ZoomJump]) -> dict[str, str]:
    jump = jumps.get(focal_mm)
    return {
        "column": focal(focal_mm),
        "jump": f"jump \N{MULTIPLICATION SIGN} {jump.ratio:.1f}" if jump else "",
    }


def _cells(worths: Sequence[Worth], best: Worth | None) -> list[dict[str, Any]]:
    by_place = {(w.setting.focal_mm, w.setting.f_number): w for w in worths}
    stops = sorted({w.setting.f_number for w in worths})
    return [
        _cell(focal_mm, stop, by_place.get((focal_mm, stop)), best)
        for stop in stops
        for focal_mm in _focals(worths)
    ]


def _cell(focal_mm: float, stop: float, worth: Worth | None, best: Worth | None) -> dict[str, Any]:
    cell: dict[str, Any] = {
        "column": focal(focal_mm),
        "row": f_number(stop),
        "tested": worth is not None,
        "over": worth is not None and not worth.eligible,
        "best": worth is not None and best is not None and worth.setting == best.setting,
        "blur": None,
        "light": None,
        "blur_text": "",
        "light_text": "",
    }
    if worth is not None:
        sign = _AT_MOST if worth.at_limit else ""
        blur = worth.lens_tightness_percent
        cell |= {
            "blur": blur,
            "light": worth.score.value,
            "blur_text": sign + percent(blur).removesuffix(" %"),
            "light_text": f"{worth.score.value:.0f}",
            **told(worth),
        }
    return cell


def _colour(cell: dict[str, Any], top_blur: float, top_light: float) -> None:
    """Fill of each cell by its share of the largest value, and ink or paper for its number."""
    for name, ramp, top in (("blur", BLUR_RAMP, top_blur), ("light", LIGHT_RAMP, top_light)):
        value = cell[name]
        share = 0.0 if value is None or top <= 0 else min(value / top, 1.0)
        if name == "light":
            # Dark is worse in both maps.
            share = 1 - share
        fill = PAPER if value is None else ramp_colour(ramp, share)
        cell[f"{name}_fill"] = fill
        cell[f"{name}_ink"] = SOFT if value is None else _ink_on(fill)


def ramp_colour(ramp: Sequence[str], share: float) -> str:
    """Return the colour at a share (0 to 1) of a ramp of hexadecimal colours, linear between."""
    place = min(max(share, 0.0), 1.0) * (len(ramp) - 1)
    k = min(int(place), len(ramp) - 2)
    low, high = _rgb(ramp[k]), _rgb(ramp[k + 1])
    mixed = (round(a + (b - a) * (place - k)) for a, b in zip(low, high, strict=True))
    return "#" + "".join(f"{part:02x}" for part in mixed)


def relative_luminance(colour: str) -> float:
    """Return the relative luminance (0 black, 1 white) of an sRGB colour such as #14508c
    (WCAG 2.2, "relative luminance")."""
    linear = [
        c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4
        for c in (part / 255 for part in _rgb(colour))
    ]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def _ink_on(fill: str) -> str:
    """Ink or paper, whichever has the higher contrast (WCAG 2.2) on the fill."""
    back = relative_luminance(fill)
    on_ink = (back + 0.05) / (relative_luminance(INK) + 0.05)
    return INK if on_ink >= 1.05 / (back + 0.05) else PAPER


def _rgb(colour: str) -> tuple[int, int, int]:
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)


def _panel(
    cells: list[dict[str, Any]],
    heads: list[dict[str, str]],
    fields: tuple[str, str, str],
    title: str,
) -> Any:
    text, fill, ink = fields
    columns = [head["column"] for head in heads]
    rows = list(dict.fromkeys(cell["row"] for cell in cells))
    flat = alt.Scale(paddingInner=0, paddingOuter=0)
    bare: dict[str, Any] = {"title": None, "domain": False, "ticks": False, "labelPadding": 10}
    x_axis = alt.Axis(orient="top", labelAngle=0, **bare)
    x = alt.X("column:N", sort=columns, scale=flat, axis=x_axis)
    y = alt.Y("row:N", sort=rows, scale=flat, axis=alt.Axis(**bare))
    base = alt.Chart(rows_of(cells)).encode(x=x, y=y)
    tested = base.transform_filter("datum.tested")
    jump = alt.Chart(rows_of(heads)).encode(x=x, y=alt.value(-34), text="jump:N")
    layers = [
        tested.mark_rect(stroke=PAPER, strokeWidth=2).encode(
            color=alt.Color(f"{fill}:N", scale=None), tooltip=list(TOLD)
        ),
        tested.mark_text(fontSize=18, fontWeight="bold", limit=0).encode(
            text=f"{text}:N", color=alt.Color(f"{ink}:N", scale=None), tooltip=list(TOLD)
        ),
        base.transform_filter("datum.over")
        .mark_point(shape="triangle-up", filled=True, size=90, opacity=1, xOffset=33)
        .encode(color=alt.Color(f"{ink}:N", scale=None)),
        base.transform_filter("datum.best").mark_rect(fill=None, stroke=INK, strokeWidth=5),
        jump.mark_text(fontSize=15, fontWeight="bold", color=INK, limit=0),
    ]
    offset = 30 if any(head["jump"] for head in heads) else 12
    return alt.layer(*layers).properties(
        width=max(CELL_PX[0] * len(columns), 150),
        height=CELL_PX[1] * len(rows),
        title=alt.TitleParams(
            text=title, anchor="start", fontSize=16, fontWeight="normal", offset=offset
        ),
    )
