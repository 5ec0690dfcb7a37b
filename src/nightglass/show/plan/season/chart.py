"""A year of nights on one picture: what the sky does through each night, and hours per night.

Kinds of light differ in lightness first and in colour second, so that a grey print and a
colour-blind eye read them too: the darker the field, the darker the sky; the target's time is the
one light field inside the dark. Any two that touch are at least 10 apart in CIE lightness.
"""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Any

from nightglass.almanac.night import Night
from nightglass.almanac.windows import Window
from nightglass.plan.night.season import BestRun, Season
from nightglass.show.plan.night.words import horizon_text, place_text
from nightglass.show.plan.season.words import season_words

DAY, TWILIGHT, MOONLIT, DARK = "sun up", "twilight", "dark, moon up", "dark, moon down"
COLOURS = {DAY: "#f3efe4", TWILIGHT: "#c8d2df", MOONLIT: "#586a8e", DARK: "#141d3a"}
TARGET_COLOUR = "#d98e17"
INK = "#1c1c1c"
FONT = "Liberation Sans, DejaVu Sans, Arial, sans-serif"
WIDTH_PX, HEIGHT_PX, HOURS_PX = 980, 420, 120


def season_chart(season: Season) -> Any:
    """Return the altair chart of a season."""
    import altair as alt

    target = f"{season.target.name} up in the dark"
    order = [DAY, TWILIGHT, MOONLIT, DARK, target]
    colours = [*COLOURS.values(), TARGET_COLOUR]
    colour = alt.Color(
        "kind:N",
        scale=alt.Scale(domain=order, range=colours),
        legend=alt.Legend(
            title=None, orient="top", symbolStrokeColor="#777", symbolStrokeWidth=0.6
        ),
    )
    first, last = season.nights[0].date, season.nights[-1].date + timedelta(days=1)
    months = alt.Axis(
        format="%b %Y" if len(season.nights) > 70 else "%d %b",
        title=None,
        tickCount="month" if len(season.nights) > 70 else 10,
        labelAlign="left",
        grid=True,
        gridColor="#ffffff",
        gridOpacity=0.25,
    )
    dates = alt.X(
        "from:T",
        scale=alt.Scale(domain=[first.isoformat(), last.isoformat()], nice=False),
        axis=months,
    )
    upper = _nights_panel(alt, season, target, colour, dates)
    lower = _hours_panel(alt, season, target, colour, dates)
    title = alt.TitleParams(
        f"Nights at {season.place.name}",
        subtitle=[
            f"{place_text(season.place)}; local clock of {season.place.zone_name}; the "
            f"{season.target.name} counts above a horizon of {horizon_text(season.horizon)}",
            _legend(season),
        ],
        anchor="start",
        offset=6,
    )
    return (
        alt.vconcat(upper, lower, spacing=14)
        .properties(title=title, background="#ffffff", padding=14)
        .configure(font=FONT)
        .configure_axis(labelColor=INK, titleColor=INK, labelFontSize=12, titleFontSize=12)
        .configure_title(fontSize=18, subtitleFontSize=12, subtitleColor=INK, color=INK)
        .configure_legend(
            labelFontSize=12, labelLimit=500, labelColor=INK, symbolType="square", symbolSize=160
        )
        .configure_view(stroke="#888")
    )


def _legend(season: Season) -> str:
    if not season.best:
        return season_words(season)
    order = "hours dark and moonless"
    if season.code is None:
        order += ", the target up, less for hours low in the sky"
    return (
        f"wedge and number: the best night of each moonless run, 1 the best ({order}); bar: the "
        "nights at least half as good"
    )


def night_spans(night: Night) -> list[dict[str, Any]]:
    """Return what the sky does through one night as rows kind, start, end (clock hours).

    The sun's time is left out: it is the ground of the picture. Hours count on the local clock
    from midnight of the evening's date, 12 to 36; where the sun stays down, what lies beyond
    stands with the night before or after.
    """
    rows = []
    if night.sun_lowest_degrees < -50 / 60:
        start = night.sunset or night.span.start
        rows += _rows(night, TWILIGHT, [Window(start, night.sunrise or night.span.end)])
    rows += _rows(night, MOONLIT, list(night.dark))
    rows += _rows(night, DARK, list(night.moonless))
    return rows


def _rows(night: Night, kind: str, windows: list[Window]) -> list[dict[str, Any]]:
    rows = []
    for window in windows:
        start, end = _clock_hour(night, window.start), _clock_hour(night, window.end)
        for days in (-1, 0, 1):
            low, high = max(start - 24.0 * days, 12.0), min(end - 24.0 * days, 36.0)
            if low < high:
                day = night.date + timedelta(days=days)
                rows.append(
                    {
                        "kind": kind,
                        "from": day.isoformat(),
                        "to": _past_midnight(day),
                        "start": low,
                        "end": high,
                    }
                )
    return rows


def _past_midnight(day: date) -> str:
    """Where a night's bar ends: a little inside the next, which covers it, so that no hairlines
    stay between bars."""
    return f"{(day + timedelta(days=1)).isoformat()}T04:00:00"


def _clock_hour(night: Night, at: datetime) -> float:
    local = at.astimezone(night.place.zone)
    days = (local.date() - night.date).days
    return 24.0 * days + local.hour + local.minute / 60 + local.second / 3600


def _nights_panel(alt: Any, season: Season, target: str, colour: Any, dates: Any) -> Any:
    rows = [row for night in season.nights for row in night_spans(night)]
    up = [r for n in season.nights for r in _rows(n, target, list(n.target.up_and_dark))]
    low, high = _clock_range(season)
    hours = alt.Axis(
        title="local clock",
        values=list(range(12, 37, 2)),
        labelExpr="datum.value % 24 + ':00'",
        grid=True,
        gridColor="#ffffff",
        gridOpacity=0.25,
    )
    y = alt.Y("start:Q", scale=alt.Scale(domain=[high, low], nice=False, zero=False), axis=hours)
    bars = [
        alt.Chart(alt.InlineData(values=part))
        .mark_rect(clip=True, strokeWidth=0)
        .encode(x=dates, x2="to:T", y=y, y2="end:Q", color=colour)
        for part in (rows, up)
        if part
    ]
    ground = alt.ViewBackground(fill=COLOURS[DAY], stroke="#888")
    return alt.layer(*bars, *_best_marks(alt, season, dates, low)).properties(
        width=WIDTH_PX, height=HEIGHT_PX, view=ground
    )


def _best_marks(alt: Any, season: Season, dates: Any, top: float) -> list[Any]:
    """Over each best night a wedge with its number, over the good nights around it a bar."""
    if not season.best:
        return []
    bars = [
        {"from": best.first.isoformat(), "to": (best.last + timedelta(days=1)).isoformat()}
        for best in season.best
    ]
    marks = [
        alt.Chart(alt.InlineData(values=bars))
        .mark_rule(strokeWidth=3, color=INK, opacity=1)
        .encode(x=dates, x2="to:T", y=alt.YDatum(top), yOffset=alt.YOffsetValue(-3))
    ]
    wedges = [{"from": _noon(best), "rank": str(best.rank)} for best in season.best]
    over = alt.Chart(alt.InlineData(values=wedges)).encode(x=dates, y=alt.YDatum(top))
    marks.append(
        over.mark_point(shape="triangle-down", size=44, filled=True, color=INK, opacity=1).encode(
            yOffset=alt.YOffsetValue(-9)
        )
    )
    marks.append(
        over.mark_text(fontSize=12.5, fontWeight="bold", color=INK, dy=-20).encode(text="rank:N")
    )
    return marks


def _noon(best: BestRun) -> str:
    return f"{best.night.date.isoformat()}T12:00:00"


def _hours_panel(alt: Any, season: Season, target: str, colour: Any, dates: Any) -> Any:
    rows = []
    for night, hours in zip(season.nights, season.target_hours, strict=True):
        shared = {"from": night.date.isoformat(), "to": _past_midnight(night.date), "none": 0.0}
        heights = {MOONLIT: night.dark_hours, DARK: night.moonless_hours, target: hours}
        rows += [{**shared, "kind": k, "hours": h} for k, h in heights.items() if h > 0]
    y = alt.Y("hours:Q", axis=alt.Axis(title="hours a night", tickCount=5, gridOpacity=0.4))
    return (
        alt.Chart(alt.InlineData(values=rows))
        .mark_rect(clip=True, strokeWidth=0)
        .encode(x=dates, x2="to:T", y=y, y2="none:Q", color=colour)
        .properties(width=WIDTH_PX, height=HOURS_PX)
    )


def _clock_range(season: Season) -> tuple[float, float]:
    """Clock hours that hold all nights; the whole day where the sun stays down or up."""
    starts = [_clock_hour(n, n.sunset) for n in season.nights if n.sunset is not None]
    ends = [_clock_hour(n, n.sunrise) for n in season.nights if n.sunrise is not None]
    if len(starts) < len(season.nights) or len(ends) < len(season.nights):
        return 12.0, 36.0
    return float(int(min(starts))), float(int(max(ends)) + 1)
