"""Writes a season: picture (SVG, PNG), table (CSV) and calendar (iCalendar)."""

from __future__ import annotations

import csv
import io
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from nightglass.plan.night.season import Season
from nightglass.show.outlined import write_picture
from nightglass.show.plan.caution_words import caution_data
from nightglass.show.plan.night.data import horizon_data, place_data, window_data
from nightglass.show.plan.season.calendar import season_calendar
from nightglass.show.plan.season.chart import season_chart
from nightglass.show.plan.season.text import COLUMNS, season_rows
from nightglass.show.whole_file import write_whole


def write_season(season: Season, folder: Path) -> list[Path]:
    """Write season.svg, .png, .csv and .ics into a folder (made if missing); return the paths."""
    folder.mkdir(parents=True, exist_ok=True)
    picture, print_picture = folder / "season.svg", folder / "season.png"
    write_pictures(season_chart(season), picture, print_picture)
    table = write_whole(folder / "season.csv", season_csv(season).encode())
    days = season_calendar(season, datetime.now(UTC))
    calendar = write_whole(folder / "season.ics", days.encode())
    return [picture, print_picture, table, calendar]


def write_pictures(chart: Any, svg: Path, png: Path) -> None:
    """Write an altair chart as SVG and as PNG for print; drawn once, so both are the same."""
    import vl_convert

    drawn = vl_convert.vegalite_to_svg(chart.to_dict())
    # Bars of neighbouring nights touch: smoothed edges would let the ground shine through.
    crisp = "<style>.mark-rect path{shape-rendering:crispEdges}</style>"
    drawn = drawn.replace(">", f">{crisp}", 1)
    write_picture(drawn, svg, png)


def season_csv(season: Season) -> str:
    """Return the table of all nights as CSV (RFC 4180)."""
    text = io.StringIO()
    csv.writer(text).writerows(season_rows(season))
    return text.getvalue()


def season_data(season: Season) -> dict[str, Any]:
    """Return the season as plain data: the best runs in full, hours for all of them."""
    return {
        "place": place_data(season.place),
        "horizon": horizon_data(season.horizon),
        "target": season.target.name,
        "code": season.code,
        "best": [
            {
                "rank": best.rank,
                "date": best.night.date.isoformat(),
                "first": best.first.isoformat(),
                "last": best.last.isoformat(),
                "window": window_data(best.window, season.place),
                "hours": round(best.hours, 3),
                "days_from_new_moon": round(best.days_from_new_moon, 2),
            }
            for best in season.best
        ],
        "cautions": caution_data(),
        "nights": [dict(zip(COLUMNS, row, strict=True)) for row in season_rows(season)[1:]],
    }
