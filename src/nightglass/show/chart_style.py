"""The look of all charts: one ink, two hues that differ in lightness, shapes and words beside."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import altair as alt
import vl_convert

from nightglass.show.outlined import outlined, write_picture
from nightglass.show.typefaces import drawable

INK = "#141a2e"
SOFT = "#5b6272"
LINE = "#c9ccd4"
PAPER = "#ffffff"
KEPT = "#14508c"
"""Within the limit: dark blue."""
OVER = "#c96a00"
"""Over the limit: mid orange, clearly lighter than KEPT in grey."""
BLUR_RAMP = ("#fdf3e1", "#f3c98b", "#d98b52", "#9c4a3c", "#4f1f2d")
"""Light to dark: more blur is darker, in colour and in grey."""
LIGHT_RAMP = ("#1b2a4a", "#345f8f", "#6f9fc4", "#b4d2e3", "#f1f8fa")
"""Dark to light: more light is lighter."""
FONT = "B612, DejaVu Sans, sans-serif"


def styled(chart: Any, title: str, subtitle: list[str]) -> Any:
    """Return a chart with title, lines under it, fonts and frame of this house."""
    title_style = alt.TitleParams(
        text=safe(title),
        subtitle=[safe(line) for line in subtitle],
        anchor="start",
        frame="bounds",
        offset=22,
    )
    return (
        chart.properties(title=title_style, background=PAPER, padding=24)
        .configure(font=FONT)
        .configure_title(
            fontSize=24, fontWeight="bold", color=INK, subtitleFontSize=15, subtitleColor=SOFT,
            subtitlePadding=8, subtitleLineHeight=20,
        )
        .configure_axis(
            labelFontSize=15, titleFontSize=15, titleFontWeight="normal", labelColor=INK,
            titleColor=SOFT, gridColor=LINE, gridDash=[1, 4], domainColor=SOFT, tickColor=SOFT,
            labelLimit=0, titleLimit=0, titlePadding=10, labelFlush=False,
        )
        .configure_header(labelFontSize=16, labelColor=INK, labelFontWeight="bold")
        .configure_view(stroke=None)
        .configure_concat(spacing=28)
    )  # fmt: skip


def rows_of(rows: Sequence[Mapping[str, Any]]) -> Any:
    """Return rows as the data of a chart.

    A tuple, because a list is copied value by value each time that a chart gets another property:
    most of the time of drawing one.
    """
    return alt.Data(values=tuple(rows))


def safe(text: str) -> str:
    """Return a person's text fit for a chart: what no font on hand has becomes a square."""
    return drawable(text)


def shortened(text: str, longest: int) -> str:
    """Return safe text of at most so many characters; a cut one ends in an ellipsis."""
    plain = safe(text)
    return (
        plain
        if len(plain) <= longest
        else plain[: longest - 1].rstrip() + "\N{HORIZONTAL ELLIPSIS}"
    )


def chart_svg(chart: Any) -> str:
    """Return a chart as SVG, letters of other scripts as outlines."""
    return outlined(vl_convert.vegalite_to_svg(chart.to_dict(validate=False)))


def save_chart(chart: Any, stem: Path) -> tuple[Path, Path]:
    """Write a chart as SVG and PNG (two dots per unit) beside each other; return both paths.

    No browser and no network are used. The SVG asks for the shipped font and falls back to the
    reader's own for Latin letters; others are outlines. Raises OSError where the folder can't be
    written.
    """
    # The schema check takes a third of the time; the tests make it for each kind of chart.
    spec = chart.to_dict(validate=False)
    svg, png = stem.with_name(stem.name + ".svg"), stem.with_name(stem.name + ".png")
    return write_picture(vl_convert.vegalite_to_svg(spec), svg, png)
