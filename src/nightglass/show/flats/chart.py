"""Light from the centre to the corner, one panel a setting."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import altair as alt
import numpy as np

from nightglass.bench.flats.records import FlatReport, SettingFalloff
from nightglass.show.chart_style import INK, KEPT, rows_of, save_chart, shortened, styled
from nightglass.show.flats.words import setting_words

WIDTH, HEIGHT = 300, 200
COLUMNS = 2
POINTS = 41
NAME_LENGTH = 34


def write_flats_chart(report: FlatReport, folder: Path) -> list[Path]:
    """Write the chart (SVG, PNG) and return its files; none without a falloff.

    The folder is made if it is missing. Raises OSError where it can't be written.
    """
    if not report.settings:
        return []
    folder.mkdir(parents=True, exist_ok=True)
    return list(save_chart(falloff_chart(report.settings), folder / "flats"))


def falloff_chart(settings: Sequence[SettingFalloff]) -> Any:
    """Return star light lost from the centre to the corner, with the error (1 sigma) as a band."""
    most = max(one.falloff.corner_stops + one.falloff.stops_err(1.0) for one in settings)
    domain = [max(math.ceil(most), 1), -0.25]
    panels = [_panel(one, domain) for one in settings]
    lines = [
        "Star light lost in stops; band: 1 sigma. A wide picture's corner loses more per pixel."
    ]
    chart = alt.concat(*panels, columns=COLUMNS, spacing=30)
    return styled(chart, "Light over the field", lines)


def _panel(one: SettingFalloff, domain: list[float]) -> Any:
    radius = np.linspace(0.0, 1.0, POINTS)
    lost = [(q, one.falloff.stops(q), one.falloff.stops_err(q)) for q in radius.tolist()]
    rows = [
        {"radius": q, "stops": stops, "low": stops - err, "high": stops + err}
        for q, stops, err in lost
    ]
    base = alt.Chart(rows_of(rows)).encode(
        x=alt.X("radius:Q", axis=alt.Axis(title="centre to corner", format=".1f", tickCount=5))
    )
    scale = alt.Scale(domain=domain, nice=False)
    y = {"axis": alt.Axis(title="stops lost", tickCount=5), "scale": scale}
    band = base.mark_area(color=KEPT, opacity=0.35).encode(y=alt.Y("low:Q", **y), y2="high:Q")
    line = base.mark_line(color=INK, strokeWidth=3).encode(y=alt.Y("stops:Q", **y))
    title = alt.TitleParams(shortened(setting_words(one), NAME_LENGTH), fontSize=15, anchor="start")
    return alt.layer(band, line).properties(width=WIDTH, height=HEIGHT, title=title)
