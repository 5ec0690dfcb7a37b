"""What a point of a chart stands for: its setting, its numbers with their intervals.

A still picture does not show it; where the chart is live the pointer or the arrow keys do.
"""

from __future__ import annotations

from typing import Any

import altair as alt

from nightglass.show.chart_style import safe
from nightglass.show.words import f_number, focal, percent
from nightglass.verdict.records import Interval, Worth

TOLD = (
    alt.Tooltip("told_setting:N", title="Setting"),
    alt.Tooltip("told_score:N", title="Score"),
    alt.Tooltip("told_blur:N", title="Worst blur"),
)


def told(worth: Worth) -> dict[str, Any]:
    """Return the fields that TOLD shows, and `where`: the setting that the point leads to."""
    setting = worth.setting
    bound = "at most " if worth.at_limit else ""
    blur = f"{bound}{percent(worth.lens_tightness_percent)} of height"
    return {
        "told_setting": safe(
            f"{setting.lens} at {focal(setting.focal_mm)}, {f_number(setting.f_number)}"
        ),
        "told_score": _with_span(f"{worth.score.value:.0f}", worth.score, ".0f"),
        "told_blur": f"{_with_span(blur, worth.tightness_interval, '.3f')}, {worth.worst_place}",
        "where": {
            "lens": setting.lens,
            "focal_mm": setting.focal_mm,
            "f_number": setting.f_number,
        },
    }


def _with_span(text: str, span: Interval | None, digits: str) -> str:
    if span is None or span.low is None or span.high is None or span.low == span.high:
        return text
    return f"{text} ({span.low:{digits}} to {span.high:{digits}})"
