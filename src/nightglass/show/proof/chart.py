"""Sky against bench: every place of every setting, with the line of equality."""

from __future__ import annotations

import math
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import altair as alt

from nightglass.gear.lens import LensSetting
from nightglass.proof.records import PlaceProof, Proof
from nightglass.show.chart_style import (
    INK,
    KEPT,
    OVER,
    SOFT,
    rows_of,
    save_chart,
    shortened,
    styled,
)
from nightglass.show.proof.text import SIDES, Comparison, place_comparisons
from nightglass.show.proof.verdict import verdict_words
from nightglass.show.sky.panel import wrapped

STATES = {0: "within the errors", 1: SIDES[1], -1: SIDES[-1]}
ABOUT = ("Dashed: equal on bench and sky. Bars: 95 %.", "Marks: as measured, else the lens alone.")
ABOUT_GREY = "Grey: the lens alone, where as measured decides."
SHAPES = ["circle", "triangle-up", "triangle-down"]
ROOM = 1.15
SIDE = 560
LONGEST_NAME = 44
WIDTH, SUBTITLE_SIZE = 640, 15
CLOSE = 0.06
"""Difference of ln(size) under which names would stand in one line."""
NAMED = 12
"""With more points their names would cover each other; the table has them all."""


def proof_chart(proof: Proof) -> Any:
    """Return sizes on the sky against those on the bench, on equal scales.

    Each place once by the comparison that decides it, in colour and shape; and in grey the lens
    alone where as measured decides. Raises ValueError if no place was compared.
    """
    rows = [
        _point(setting.setting, place, way, proof.picture_height_px)
        for setting in proof.settings
        for place in setting.places
        for way in place_comparisons(place)
    ]
    if not rows:
        raise ValueError("no place was measured on both bench and sky; the frames say why")
    deciding = [row for row in rows if row["decides"]]
    beside = [row for row in rows if not row["decides"]]
    _keep_apart(deciding)
    ends = [row[key] for row in rows for key in ("bench", "sky", "low", "high")]
    domain = [min(ends) / ROOM, max(ends) * ROOM]
    said = verdict_words(proof.verdict)
    lines = [f"{said[0].upper()}{said[1:]}.", *ABOUT]
    lines += [ABOUT_GREY] if beside else []
    chart = alt.layer(*_layers(deciding, beside, domain)).properties(width=SIDE, height=SIDE)
    wrap = [part for line in lines for part in wrapped(line, WIDTH, SUBTITLE_SIZE)]
    return styled(chart, "Sky against bench", wrap)


def _layers(
    deciding: list[dict[str, Any]], beside: list[dict[str, Any]], domain: list[float]
) -> Iterator[Any]:
    """The line of equality, the grey points, those that decide, and their names."""
    scale = alt.Scale(type="log", domain=domain, nice=False)

    def axis(title: str) -> Any:
        return alt.Axis(title=f"{title} [% of picture height]", format="~g", tickCount=6)

    x = alt.X("bench:Q", scale=scale, axis=axis("bench"))

    def y(field: str) -> Any:
        return alt.Y(f"{field}:Q", scale=scale, axis=axis("sky"))

    line = alt.Chart(rows_of([{"bench": end, "sky": end} for end in domain]))
    yield line.mark_line(color=INK, strokeWidth=2, strokeDash=[7, 5]).encode(x=x, y=y("sky"))
    if beside:
        grey = alt.Chart(rows_of(beside)).encode(x=x)
        yield grey.mark_rule(strokeWidth=1.5, color=SOFT).encode(y=y("low"), y2="high:Q")
        yield grey.mark_point(size=90, filled=False, opacity=1, color=SOFT).encode(y=y("sky"))
    states = list(STATES.values())
    colour = alt.Color("state:N", scale=alt.Scale(domain=states, range=[KEPT, OVER, INK]))
    shape = alt.Shape("state:N", scale=alt.Scale(domain=states, range=SHAPES))
    legend = alt.Legend(title=None, orient="bottom", labelFontSize=15, symbolSize=140, labelLimit=0)
    base = alt.Chart(rows_of(deciding)).encode(x=x)
    yield base.mark_rule(strokeWidth=2).encode(y=y("low"), y2="high:Q", color=colour.legend(legend))
    yield base.mark_point(size=140, filled=True, opacity=1).encode(
        y=y("sky"), color=colour.legend(legend), shape=shape.legend(legend)
    )
    if len(deciding) <= NAMED:
        yield from (_names(base, y("sky"), side) for side in ("left", "right"))


def _keep_apart(rows: list[dict[str, Any]]) -> None:
    """Choose the side to which each point's name is written: away from the axis, and neighbours
    away from each other. An align of "left" begins right of the point."""
    ordered = sorted(rows, key=lambda row: row["bench"])
    for number, row in enumerate(ordered):
        row["align"] = "left" if number < len(ordered) / 2 else "right"
        if number and abs(math.log(row["sky"] / ordered[number - 1]["sky"])) < CLOSE:
            ordered[number - 1]["align"], row["align"] = "right", "left"


def write_proof_chart(proof: Proof, folder: Path) -> Iterator[Path]:
    """Write the chart into an existing folder and yield its files; none if nothing was compared.

    Raises OSError where the folder can't be written.
    """
    if any(place.compared for setting in proof.settings for place in setting.places):
        yield from save_chart(proof_chart(proof), folder / "proof")


def _names(base: Any, y: Any, align: str) -> Any:
    """Names of the points that write to one side."""
    mark = base.transform_filter(f"datum.align === '{align}'").mark_text(
        align=align, dx=12 if align == "left" else -12, fontSize=13, color=INK, limit=0
    )
    return mark.encode(y=y, text="name:N")


def _named(setting: LensSetting, place: str) -> str:
    """Short name of a point: lens, focal length where its name does not say it, f-number, place."""
    lens = shortened(setting.lens.split(" f/")[0], LONGEST_NAME // 2)
    zoom = "" if f"{setting.focal_mm:g} mm" in lens else f" {setting.focal_mm:g} mm"
    return shortened(f"{lens}{zoom} f/{setting.f_number:g}, {place}", LONGEST_NAME)


def _point(
    setting: LensSetting, place: PlaceProof, way: Comparison, height_px: float
) -> dict[str, Any]:
    bench, sky = (100 * (size or math.nan) / height_px for size in (way.bench_px, way.sky_px))
    span = way.ratio
    low, high = (span.low, span.high) if span else (None, None)
    return {
        "name": _named(setting, place.place),
        "decides": way.decides,
        "bench": bench,
        "sky": sky,
        "low": bench * low if low is not None else sky,
        "high": bench * high if high is not None else sky,
        "state": STATES[place.differs],
    }
