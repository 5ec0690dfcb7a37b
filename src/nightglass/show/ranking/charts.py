"""The chart of the ranking. Shape and word, never colour alone."""

from __future__ import annotations

from typing import Any

import altair as alt

from nightglass.show.chart_style import (
    INK,
    KEPT,
    LINE,
    OVER,
    PAPER,
    SOFT,
    rows_of,
    shortened,
    styled,
)
from nightglass.show.ranking.look_words import viewed_words
from nightglass.show.ranking.note_words import first_shares_words, not_ranked_name, note_words
from nightglass.show.ranking.points import TOLD, told
from nightglass.show.ranking.tables import finite
from nightglass.show.words import f_number, focal, percent, seconds
from nightglass.verdict.question import Question
from nightglass.verdict.records import Ranking, Standing, Worth

ROW_PX = 62
"""Height of one lens in the ranking chart."""
NAME_LENGTH = 44
"""Longer lens names are cut in charts, so that text stays readable at A5."""
LONGEST_BAR = 2.5
"""A bar beyond this many times the largest value runs out of the chart, and that is said."""
BLUR_TITLE = "blur of the worst place, % of height"
_DOT = " \N{MIDDLE DOT} "
_QUESTIONS = {
    Question.PICTURE: "whole picture",
    Question.SKY: "one patch of sky",
}


def ranking_chart(ranking: Ranking) -> Any:
    """Return the ranking: score with its 95 % interval, tightness with the limit beside it.

    Raises ValueError if no lens has a place.
    """
    if not ranking.standings:
        raise ValueError("no lens could be ranked; the reasons are in not_ranked")
    rows = [_ranking_row(k, standing) for k, standing in enumerate(ranking.standings)]
    names = _names(rows)
    score = _score_panel(rows)
    blur = _blur_panel(rows, limit_line(ranking))
    chart = alt.hconcat(names, score, blur, spacing=26).resolve_scale(y="shared")
    return styled(chart, "Best setting of each lens", _ranking_lines(ranking))


def _ranking_row(index: int, standing: Standing) -> dict[str, Any]:
    worth = standing.worth
    blur = worth.lens_tightness_percent
    span = worth.tightness_interval
    word = "over limit" if standing.over_limit else ""
    if worth.at_limit:
        word = "at limit"
    row = {
        "row": index,
        "place": str(standing.place) + ("=" if standing.tied_with else ""),
        "lens": shortened(worth.setting.lens, NAME_LENGTH),
        "setting": _setting(worth),
        "state": "over your limit" if standing.over_limit else "within your limit",
        "score": worth.score.value,
        "low": worth.score.low,
        "high": worth.score.high,
        "score_text": f"{worth.score.value:.0f}",
        "blur": blur,
        "blur_low": span.low if span else None,
        "blur_high": span.high if span else None,
        "blur_text": percent(blur) + (f"  {word}" if word else ""),
    }
    return {key: finite(value) for key, value in (row | told(worth)).items()}


def _setting(worth: Worth) -> str:
    """Focal length, f-number and the time at which the setting was compared."""
    time_s = worth.times.chosen.shown_s(worth.release)
    return _DOT.join(
        (focal(worth.setting.focal_mm), f_number(worth.setting.f_number), seconds(time_s))
    )


def _ranking_lines(ranking: Ranking) -> list[str]:
    lines = [
        f"Score: stars seen times the Milky Way's glow, {_QUESTIONS[ranking.question]}, looked at "
        f"{viewed_words(ranking.eye)};",
        "the reference = 100, half the score is about a stop less. Bars: 95 %.",
    ]
    if (held := ranking.order_frequency) is not None:
        lines.append(
            f"Of {held.trials} trials {first_shares_words(held)}; all stand as listed in "
            f"{100 * held.whole_order_share:.0f} %."
        )
    best = max(standing.worth.score.value for standing in ranking.standings)
    if any((s.worth.score.high or 0) > LONGEST_BAR * best for s in ranking.standings):
        lines.append("A bar that runs out of the chart goes on: its lens needs more repeats.")
    lines += [
        f"Not ranked: {not_ranked_name(one)}, {note_words(one.reason)}."
        for one in ranking.not_ranked[:3]
    ]
    return lines


def limit_line(ranking: Ranking) -> float | None:
    """The person's limit where it is one on the blur that the charts draw."""
    limit = ranking.limit
    drawn = limit is not None and (limit.on, limit.at) == ("lens", "worst")
    return limit.percent if limit is not None and drawn else None


def _row_axis() -> Any:
    return alt.Y("row:O", axis=None, scale=alt.Scale(paddingInner=0, paddingOuter=0))


def _names(rows: list[dict[str, Any]]) -> Any:
    longest = max(len(row["lens"]) for row in rows)
    size = 18 if longest <= 30 else 14
    width = max(64 + longest * size * 0.62, 240)
    base = alt.Chart(rows_of(rows)).encode(y=_row_axis())

    def column(field: str, x: int, **style: Any) -> Any:
        mark = base.mark_text(align="left", baseline="middle", limit=0, **style)
        return mark.encode(x=alt.value(x), text=f"{field}:N")

    return alt.layer(
        column("place", 0, fontSize=30, fontWeight="bold", color=INK),
        column("lens", 64, fontSize=size, fontWeight="bold", color=INK, dy=-11),
        column("setting", 64, fontSize=15, color=SOFT, dy=12),
    ).properties(width=width, height=ROW_PX * len(rows))


def _state_marks() -> dict[str, Any]:
    domain = ["within your limit", "over your limit"]
    colours = alt.Scale(domain=domain, range=[KEPT, OVER])
    shapes = alt.Scale(domain=domain, range=["circle", "triangle-up"])
    return {
        "color": alt.Color("state:N", scale=colours, legend=None),
        "shape": alt.Shape("state:N", scale=shapes, legend=None),
    }


def _measured(rows: list[dict[str, Any]], fields: tuple[str, str, str], x: Any) -> list[Any]:
    """Point, interval and its end strokes, one row per lens."""
    value, low, high = fields
    base = alt.Chart(rows_of(rows)).encode(y=_row_axis())
    known = base.transform_filter(f"datum.{low} !== null && datum.{high} !== null")
    marks = _state_marks()
    ends = [
        known.mark_tick(thickness=3, size=16, clip=True).encode(x=f"{end}:Q", color=marks["color"])
        for end in (low, high)
    ]
    return [
        base.mark_rule(color=LINE, strokeWidth=1).encode(y=_row_axis()),
        known.mark_rule(strokeWidth=3, clip=True).encode(
            x=x(low), x2=f"{high}:Q", color=marks["color"]
        ),
        *ends,
        base.mark_point(size=190, filled=True, opacity=1).encode(
            x=x(value), **marks, tooltip=list(TOLD)
        ),
    ]


def _reach(rows: list[dict[str, Any]], high: str, value: str) -> float:
    """The largest value to draw: one uncertain lens must not squeeze all others together."""
    ends = max(row[high] or row[value] for row in rows)
    return float(min(ends, LONGEST_BAR * max(row[value] for row in rows)))


def _labels(rows: list[dict[str, Any]], field: str, x: Any) -> list[Any]:
    """Numbers above the points, each on a halo of paper so that no line runs through it."""
    base = alt.Chart(rows_of(rows)).encode(y=_row_axis(), x=x, text=f"{field}:N")
    style: dict[str, Any] = {"baseline": "bottom", "dy": -13, "fontSize": 16, "limit": 0}
    return [
        base.mark_text(stroke=PAPER, strokeWidth=6, color=PAPER, **style),
        base.mark_text(color=INK, fontWeight="bold", **style),
    ]


def _score_panel(rows: list[dict[str, Any]]) -> Any:
    top = _reach(rows, "high", "score")
    scale = alt.Scale(domain=[0, max(top * 1.02, 1)], nice=True)

    def x(field: str) -> Any:
        return alt.X(f"{field}:Q", scale=scale, axis=alt.Axis(title="score", tickCount=5))

    layers = _measured(rows, ("score", "low", "high"), x)[1:]
    return alt.layer(*layers, *_labels(rows, "score_text", x("score"))).properties(
        width=330, height=ROW_PX * len(rows)
    )


def _blur_panel(rows: list[dict[str, Any]], limit_percent: float | None) -> Any:
    top = max(_reach(rows, "blur_high", "blur"), limit_percent or 0.0) * 1.3
    scale = alt.Scale(domain=[0, top], nice=False)

    def x(field: str) -> Any:
        axis = alt.Axis(title=BLUR_TITLE, tickCount=5, format=".2~f")
        return alt.X(f"{field}:Q", scale=scale, axis=axis)

    layers = _measured(rows, ("blur", "blur_low", "blur_high"), x)[1:]
    if limit_percent is not None:
        limit = alt.Chart(rows_of([{"limit": limit_percent}]))
        line = limit.mark_rule(color=INK, strokeWidth=2, strokeDash=[7, 5]).encode(x=x("limit"))
        word = limit.mark_text(align="center", baseline="bottom", fontSize=14, color=INK).encode(
            x=x("limit"), y=alt.value(-5), text=alt.value("your limit")
        )
        layers = [line, word, *layers]
    return alt.layer(*layers, *_labels(rows, "blur_text", x("blur"))).properties(
        width=300, height=ROW_PX * len(rows)
    )
