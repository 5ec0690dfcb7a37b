"""Effects of the bench's conditions with their intervals, one panel a study."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import altair as alt

from nightglass.bench.factors.records import Effect, FactorStudy
from nightglass.show.chart_style import (
    INK,
    KEPT,
    PAPER,
    SOFT,
    rows_of,
    save_chart,
    shortened,
    styled,
)
from nightglass.show.factors.words import OFF_BEST, STEP_WORDS, study_name

WIDTH, ROW = 520, 46
MOST_STUDIES = 4
NAME_LENGTH = 64


def write_factors_chart(studies: Sequence[FactorStudy], folder: Path) -> list[Path]:
    """Write the chart (SVG, PNG) and return its files; none without an effect that was told.

    The folder is made if it is missing. Raises OSError where it can't be written.
    """
    told = [study for study in studies if any(e.percent for e in study.effects)]
    if not told:
        return []
    folder.mkdir(parents=True, exist_ok=True)
    return list(save_chart(factors_chart(told[:MOST_STUDIES]), folder / "factors"))


def factors_chart(studies: Sequence[FactorStudy]) -> Any:
    """Return the change of size for each condition with its 95 % interval."""
    lines = [
        "Change of the size; bar: 95 % interval. Filled: an effect was found; hollow: none was.",
    ]
    chart = alt.vconcat(*(_panel(study) for study in studies), spacing=34)
    return styled(chart, "What else moves the number", lines)


def _panel(study: FactorStudy) -> Any:
    rows = [_row(effect) for effect in study.effects if effect.percent is not None]
    y = alt.Y("step:N", sort=[row["step"] for row in rows], axis=alt.Axis(title=None, labelLimit=0))
    x = alt.X("value:Q", axis=alt.Axis(title="change of size, %", tickCount=6))
    base = alt.Chart(rows_of(rows)).encode(y=y)
    zero = (
        alt.Chart(rows_of([{"zero": 0.0}])).mark_rule(color=SOFT, strokeWidth=1).encode(x="zero:Q")
    )
    bars = base.mark_rule(color=INK, strokeWidth=3).encode(
        x=alt.X("low:Q", axis=alt.Axis(title="change of size, %")), x2="high:Q"
    )
    points = base.mark_point(size=130, filled=True, strokeWidth=2.5, opacity=1).encode(
        x=x, fill=alt.Fill("fill:N", scale=None), stroke=alt.value(KEPT)
    )
    texts = base.mark_text(dy=-15, fontSize=14, color=INK).encode(x=x, text="text:N")
    title = alt.TitleParams(shortened(study_name(study), NAME_LENGTH), fontSize=16, anchor="start")
    return alt.layer(zero, bars, points, texts).properties(
        width=WIDTH, height=ROW * len(rows), title=title
    )


def _row(effect: Effect) -> dict[str, Any]:
    span = effect.percent
    if span is None:
        raise ValueError(f"{effect.influence} has no number to draw")
    sign = "+" if span.value >= 0 else "\N{MINUS SIGN}"
    return {
        "step": OFF_BEST if effect.off_best else STEP_WORDS[effect.influence],
        "value": span.value,
        "low": span.low,
        "high": span.high,
        "fill": KEPT if span.found else PAPER,
        "text": f"{sign}{abs(span.value):.1f} %",
    }
