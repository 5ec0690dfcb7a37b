"""Sky against bench: every place of every setting, with the line of equality."""

from __future__ import annotations

import math
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import altair as alt

from nightglass.gear.lens import LensSetting
from nightglass.show.chart_style import INK, KEPT, OVER, rows_of, save_chart, shortened, styled
from nightglass.verdict.proof_records import PlaceProof, Proof

STATES = {0: "within the errors", 1: "larger on the sky", -1: "smaller on the sky"}
SHAPES = ["circle", "triangle-up", "triangle-down"]
ROOM = 1.15
LONGEST_NAME = 44
NAMED = 12
"""With more points their names would cover each other; the table has them all."""


def proof_chart(proof: Proof) -> Any:
    """Return sizes on the sky against those on the bench, lens alone, on equal scales.

    Raises ValueError if no place was compared.
    """
    rows = [
        _point(setting.setting, place)
        for setting in proof.settings
        for place in setting.places
        if place.ratio is not None
    ]
    if not rows:
        raise ValueError("no place was measured on both bench and sky; the frames say why")
    _keep_apart(rows)
    ends = [row[key] for row in rows for key in ("bench", "sky", "low", "high")]
    domain = [min(ends) / ROOM, max(ends) * ROOM]
    scale = alt.Scale(type="log", domain=domain, nice=False)

    def axis(title: str) -> Any:
        return alt.Axis(title=title, format="~g", tickCount=6)

    x = alt.X("bench:Q", scale=scale, axis=axis("bench, lens alone [px]"))

    def y(field: str) -> Any:
        return alt.Y(f"{field}:Q", scale=scale, axis=axis("sky, lens alone [px]"))

    states = list(STATES.values())
    colour = alt.Color("state:N", scale=alt.Scale(domain=states, range=[KEPT, OVER, INK]))
    shape = alt.Shape("state:N", scale=alt.Scale(domain=states, range=SHAPES))
    legend = alt.Legend(title=None, orient="bottom", labelFontSize=15, symbolSize=140, labelLimit=0)
    base = alt.Chart(rows_of(rows)).encode(x=x)
    line = alt.Chart(rows_of([{"bench": end, "sky": end} for end in domain]))
    layers = [
        line.mark_line(color=INK, strokeWidth=2, strokeDash=[7, 5]).encode(x=x, y=y("sky")),
        base.mark_rule(strokeWidth=2).encode(y=y("low"), y2="high:Q", color=colour.legend(legend)),
        base.mark_point(size=140, filled=True, opacity=1).encode(
            y=y("sky"), color=colour.legend(legend), shape=shape.legend(legend)
        ),
    ]
    if len(rows) <= NAMED:
        layers += [_names(base, y("sky"), side) for side in ("left", "right")]
    lines = [
        f"{proof.verdict[0].upper()}{proof.verdict[1:]}.",
        "Dashed: equal on bench and sky. Bars: 95 %.",
    ]
    chart = alt.layer(*layers).properties(width=560, height=560)
    return styled(chart, "Sky against bench", lines)


def _keep_apart(rows: list[dict[str, Any]]) -> None:
    """Choose the side to which each point's name is written: away from the axis, and neighbours
    to different sides."""
    ordered = sorted(rows, key=lambda row: row["bench"])
    for number, row in enumerate(ordered):
        half = "left" if number < len(ordered) / 2 else "right"
        row["align"] = half
        if number and abs(math.log(row["sky"] / ordered[number - 1]["sky"])) < 0.06:
            row["align"] = "right" if ordered[number - 1]["align"] == "left" else "left"


def write_proof_chart(proof: Proof, folder: Path) -> Iterator[Path]:
    """Write the chart into an existing folder and yield its files; none if nothing was compared.

    Raises OSError where the folder can't be written.
    """
    if any(setting.bench_worst for setting in proof.settings):
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


def _point(setting: LensSetting, place: PlaceProof) -> dict[str, Any]:
    bench, sky = place.bench_px or math.nan, place.sky_px or math.nan
    span = place.ratio
    low, high = (span.low, span.high) if span else (None, None)
    return {
        "name": _named(setting, place.place),
        "bench": bench,
        "sky": sky,
        "low": bench * low if low is not None else sky,
        "high": bench * high if high is not None else sky,
        # By the bar that is drawn; the table also counts what is measured with the trail in.
        "state": STATES[int(low is not None and low > 1) - int(high is not None and high < 1)],
    }
