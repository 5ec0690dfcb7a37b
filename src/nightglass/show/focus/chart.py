"""Through focus: the curves of each place, its spots at one scale below them."""

from __future__ import annotations

import base64
import io
import math
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import altair as alt
import numpy as np
from PIL import Image

from nightglass.bench.focus.best import length_at
from nightglass.bench.focus.curve import size_at
from nightglass.bench.focus.records import BestFocus, FocusReport, PlaceSeries
from nightglass.optics.arrays import Floats
from nightglass.show.chart_style import (
    INK,
    KEPT,
    LINE,
    OVER,
    SOFT,
    rows_of,
    save_chart,
    shortened,
    styled,
)
from nightglass.show.crops import stretched
from nightglass.show.focus.words import position_words, setting_words, unit, value_words

WIDTH, HEIGHT = 440, 230
COLUMNS = 2
MOST_PANELS = 12
CELL, LEAST_CELL = 62, 26
SQUARE = 4
"""Dots of the picture file per pixel of a spot: squares, not a smear."""
POINTS = 121
NAME_LENGTH = 46
FADED = 1 / 400
LENGTH, RADIAL, TANGENTIAL = "length", "radial (centre: along)", "tangential (centre: across)"
KINDS = (LENGTH, RADIAL, TANGENTIAL)
DASHES = ([1, 0], [9, 4], [2, 3])


def write_focus_chart(report: FocusReport, folder: Path) -> list[Path]:
    """Write the picture (SVG, PNG) and return its files; none without a best focus.

    The folder is made if it is missing. Raises OSError where it can't be written.
    """
    if not any(place.best is not None for place in report.places):
        return []
    folder.mkdir(parents=True, exist_ok=True)
    return list(save_chart(focus_chart(report), folder / "focus"))


def focus_chart(report: FocusReport) -> Any:
    """Return size against focus for each place with a best focus, its spots below.

    Raises ValueError where no place has one.
    """
    good = [place for place in report.places if place.best is not None]
    if not good:
        raise ValueError("no place has a best focus: nothing to draw")
    shown = good[:MOST_PANELS]
    half = max((_reach(report.images[f.path]) for p in shown for f in p.frames
                if f.path in report.images), default=1)  # fmt: skip
    panels = [_panel(place, report.images, half) for place in shown]
    lines = [
        "Central 90 % of the light. Shaded: within 1.2 times the best length; ring: not counted.",
        "Spots: one scale for all, each over its own peak, square root; one square per pixel.",
    ]
    if len(good) > len(shown):
        lines.append(f"The first {len(shown)} of {len(good)} series.")
    chart = alt.concat(*panels, columns=min(COLUMNS, len(panels)), spacing=34)
    return styled(chart, "Through focus", lines)


def _panel(place: PlaceSeries, images: Mapping[str, Floats], half: int) -> Any:
    best = place.best
    if best is None:
        raise ValueError(f"{place.place} has no best focus to draw")
    name = shortened(f"{setting_words(place.setting)}, {place.place}", NAME_LENGTH)
    title = alt.TitleParams(
        name, fontSize=15, anchor="start",
        subtitle=f"best at {unit(place)} {value_words(best.position)}", subtitleFontSize=13,
    )  # fmt: skip
    curves = alt.layer(*_layers(place, best)).properties(width=WIDTH, height=HEIGHT, title=title)
    strip = _strip(place, images, half)
    return curves if strip is None else alt.vconcat(curves, strip, spacing=6)


def _span(place: PlaceSeries) -> tuple[float, float]:
    positions = [f.position for f in place.frames if f.position is not None]
    room = 0.05 * (max(positions) - min(positions) or 1.0)
    return min(positions) - room, max(positions) + room


def _layers(place: PlaceSeries, best: BestFocus) -> list[Any]:
    low, high = _span(place)
    x = alt.X(
        "position:Q",
        scale=alt.Scale(domain=[low, high], nice=False, zero=False),
        axis=alt.Axis(title=f"focus [{unit(place)}]", tickCount=7),
    )
    # Log scale without a base line: dots and lines only.
    y = alt.Y("size:Q", axis=alt.Axis(title="px", tickCount=5), scale=alt.Scale(zero=True))
    layers = []
    if place.depth is not None:
        depth = {"position": max(place.depth.low, low), "end": min(place.depth.high, high)}
        band = alt.Chart(rows_of([depth])).mark_rect(color=LINE, opacity=0.55)
        layers.append(band.encode(x=x, x2="end:Q"))
    lines = alt.Chart(rows_of(_curve_rows(place, best, low, high))).mark_line(strokeWidth=2.5)
    layers.append(lines.encode(x=x, y=y, color=_colour(), strokeDash=_dash()))
    dots = alt.Chart(rows_of(_dot_rows(place)))
    layers.append(
        dots.transform_filter("datum.used")
        .mark_point(size=64, filled=True, opacity=1)
        .encode(x=x, y=y, color=_colour())
    )
    layers.append(
        dots.transform_filter("!datum.used")
        .mark_point(size=110, filled=False, strokeWidth=2, color=INK)
        .encode(x=x, y=y)
    )
    return layers


def _colour() -> Any:
    return alt.Color(
        "kind:N",
        scale=alt.Scale(domain=list(KINDS), range=[KEPT, OVER, SOFT]),
        legend=alt.Legend(
            title=None, orient="bottom", labelFontSize=14, symbolType="stroke", symbolSize=500,
            symbolStrokeWidth=3, labelLimit=0, columnPadding=22,
        ),
    )  # fmt: skip


def _dash() -> Any:
    return alt.StrokeDash(
        "kind:N", scale=alt.Scale(domain=list(KINDS), range=[list(d) for d in DASHES])
    )


def _curve_rows(
    place: PlaceSeries, best: BestFocus, low: float, high: float
) -> list[dict[str, Any]]:
    grid = np.linspace(low, high, POINTS)
    sizes = {LENGTH: length_at(best, grid)}
    for kind, curve in ((RADIAL, place.radial), (TANGENTIAL, place.tangential)):
        if curve is not None:
            sizes[kind] = size_at(curve, grid)
    return [
        {"position": position, "size": size, "kind": kind}
        for kind, along in sizes.items()
        for position, size in zip(grid.tolist(), along.tolist(), strict=True)
    ]


def _dot_rows(place: PlaceSeries) -> list[dict[str, Any]]:
    rows: list[dict[str, Any]] = []
    for frame in place.frames:
        used = frame.left_out is None
        sizes = ((LENGTH, frame.length_px), (RADIAL, frame.radial_px),
                 (TANGENTIAL, frame.tangential_px))  # fmt: skip
        for kind, size in sizes:
            if size is not None and frame.position is not None and (used or kind == LENGTH):
                rows.append({"position": frame.position, "size": size, "kind": kind, "used": used})
    return rows


def _strip(place: PlaceSeries, images: Mapping[str, Floats], half: int) -> Any:
    """The spots in a row, in the order of their positions."""
    frames = [f for f in place.frames if f.path in images and f.position is not None]
    frames = [f for f in frames if images[f.path].max() > 0]
    if not frames:
        return None
    several = _thinned(frames)
    cell = max(LEAST_CELL, min(CELL, WIDTH // len(several)))
    rows = [
        {"number": k, "y": 0, "url": _picture(images[f.path], half),
         "mark": position_words(place, f.position or 0.0).split(" ", 1)[1]}
        for k, f in enumerate(several)
    ]  # fmt: skip
    x = alt.X("number:O", axis=None, scale=alt.Scale(paddingInner=0.04, paddingOuter=0.0))
    base = alt.Chart(rows_of(rows)).encode(x=x)
    spots = base.mark_image(width=cell - 3, height=cell - 3).encode(
        y=alt.value(cell / 2), url="url:N"
    )
    marks = base.mark_text(fontSize=13, color=INK).encode(y=alt.value(cell + 10), text="mark:N")
    return alt.layer(spots, marks).properties(width=cell * len(several), height=cell + 18)


def _thinned(frames: Sequence[Any]) -> list[Any]:
    """As many frames as fit side by side, even steps."""
    most = WIDTH // LEAST_CELL
    step = math.ceil(len(frames) / most)
    return list(frames[::step])


def _reach(light: Floats) -> int:
    """How far from the middle [px] a spot has light worth a grey level."""
    if not light.max() > 0:
        return 2
    middle = light.shape[0] // 2
    away = np.abs(np.argwhere(light > FADED * light.max()) - middle)
    return max(int(away.max()), 2) + 1


def _picture(light: Floats, half: int) -> str:
    grey = np.kron(stretched(light, half), np.ones((SQUARE, SQUARE), dtype=np.uint8))
    stream = io.BytesIO()
    Image.fromarray(grey).save(stream, "png")
    return "data:image/png;base64," + base64.b64encode(stream.getvalue()).decode("ascii")
