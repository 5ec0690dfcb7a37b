"""Light against tightness: every setting, those that no other beats, and each lens wide open."""

from __future__ import annotations

from collections.abc import Iterator
from string import ascii_uppercase
from typing import Any

import altair as alt

from nightglass.show.chart_style import INK, KEPT, PAPER, SOFT, rows_of, shortened, styled
from nightglass.show.ranking.charts import BLUR_TITLE, NAME_LENGTH, limit_line
from nightglass.show.ranking.points import TOLD, told
from nightglass.show.ranking.tables import finite
from nightglass.show.words import f_number, focal, percent
from nightglass.verdict.records import Ranking, Worth

NAMED = 14
"""So many settings are named beside the chart; all of them are in the table."""
_DOT = " \N{MIDDLE DOT} "
_WITHIN, _OVER = "within your limit", "over your limit"
_SIGN = 620
"""Area of a numbered disc [px^2]."""


def frontier_chart(ranking: Ranking) -> Any:
    """Return light against tightness for every setting: the unbeaten ones are numbered and joined,
    each lens wide open has a letter where it is not among them, and both are named at the right.

    Raises ValueError if nothing was judged.
    """
    if not ranking.worths:
        raise ValueError("no setting was judged; the reasons are in not_ranked")
    signs = _signs(ranking)
    points = [_point(worth, signs.get(worth.setting, "")) for worth in ranking.worths]
    judged = {worth.setting: worth for worth in ranking.worths}
    named = [(sign, judged[setting]) for setting, sign in signs.items()]
    chart = alt.hconcat(_panel(points, ranking), _names(named, ranking), spacing=36)
    lines = [
        "Up is more light, left is tighter stars. A setting that no other beats in both has a "
        "number;",
        "a lens's widest opening that another setting beats has a letter.",
    ]
    if (limit := limit_line(ranking)) is not None:
        lines.append(f"Right of the line: over your limit of {percent(limit)}.")
    return styled(chart, "Light against tightness", lines)


def widest(ranking: Ranking) -> Iterator[Worth]:
    """Yield each ranked lens's widest opening, in the order of the ranking: of several zoom
    positions the one of the highest score."""
    for standing in ranking.standings:
        own = standing.worth.setting
        theirs = [w for w in ranking.worths if w.setting.lens == own.lens]
        if theirs:
            yield min(theirs, key=lambda w: (w.setting.f_number, -w.score.value))


def _signs(ranking: Ranking) -> dict[Any, str]:
    """Numbers of the unbeaten settings, letters of beaten widest openings."""
    unbeaten = sorted(ranking.unbeaten, key=lambda w: w.lens_tightness_percent)
    signs = {worth.setting: str(k) for k, worth in enumerate(unbeaten, start=1)}
    beaten = [worth.setting for worth in widest(ranking) if worth.setting not in signs]
    letters = zip(beaten, ascii_uppercase, strict=False)
    return signs | dict(letters)


def _point(worth: Worth, sign: str) -> dict[str, Any]:
    return {
        "blur": finite(worth.lens_tightness_percent),
        "score": finite(worth.score.value),
        "kind": _WITHIN if worth.eligible else _OVER,
        "sign": sign,
        "unbeaten": sign.isdigit(),
        **told(worth),
    }


def _panel(points: list[dict[str, Any]], ranking: Ranking) -> Any:
    data = alt.Chart(rows_of(points))
    limit = limit_line(ranking)
    blurs = [p["blur"] for p in points] + ([] if limit is None else [limit])
    x_scale = alt.Scale(domain=[0, max(blurs) * 1.06], nice=False)
    x = alt.X("blur:Q", scale=x_scale, axis=alt.Axis(title=BLUR_TITLE, format=".2~f", tickCount=8))
    y = alt.Y("score:Q", axis=alt.Axis(title="light: score, reference = 100"))
    plain = data.transform_filter("datum.sign === ''")
    joined = data.transform_filter("datum.unbeaten")
    layers = [
        *_limit_layer(limit, x),
        joined.mark_line(color=KEPT, strokeWidth=2, interpolate="step-after", opacity=0.55).encode(
            x=x, y=y
        ),
        plain.mark_point(size=70, strokeWidth=1.8, opacity=1).encode(
            x=x, y=y, color=alt.value(SOFT), shape=_shape(ranking), tooltip=list(TOLD)
        ),
        *(layer.encode(x=x, y=y, tooltip=list(TOLD)) for layer in _discs(data)),
    ]
    return alt.layer(*layers).properties(width=560, height=430)


def _limit_layer(limit_percent: float | None, x: Any) -> list[Any]:
    if limit_percent is None:
        return []
    line = alt.Chart(rows_of([{"blur": limit_percent}]))
    return [line.mark_rule(color=INK, strokeWidth=2, strokeDash=[7, 5]).encode(x=x)]


def _shape(ranking: Ranking) -> Any:
    if ranking.limit is None:
        return alt.value("circle")
    legend = alt.Legend(
        title=None, orient="bottom", direction="horizontal", columnPadding=28, labelFontSize=15,
        labelLimit=0, symbolSize=110, symbolStrokeWidth=2,
    )  # fmt: skip
    scale = alt.Scale(domain=[_WITHIN, _OVER], range=["circle", "triangle-up"])
    return alt.Shape("kind:N", scale=scale, legend=legend)


def _discs(data: Any) -> list[Any]:
    """Filled discs with numbers, hollow ones with letters."""
    number = data.transform_filter("datum.unbeaten")
    letter = data.transform_filter("!datum.unbeaten && datum.sign !== ''")
    word: dict[str, Any] = {"fontSize": 15, "fontWeight": "bold", "baseline": "middle"}
    return [
        letter.mark_point(size=_SIGN, filled=True, color=PAPER, shape="circle", opacity=1),
        letter.mark_point(size=_SIGN, color=KEPT, shape="circle", strokeWidth=2, opacity=1),
        letter.mark_text(color=KEPT, **word).encode(text="sign:N"),
        number.mark_point(size=_SIGN, filled=True, color=KEPT, shape="circle", opacity=1),
        number.mark_text(color="white", **word).encode(text="sign:N"),
    ]


def _names(named: list[tuple[str, Worth]], ranking: Ranking) -> Any:
    open_settings = {worth.setting for worth in widest(ranking)}
    rows: list[dict[str, Any]] = [
        {
            "row": k,
            "sign": sign,
            "unbeaten": sign.isdigit(),
            "name": shortened(worth.setting.lens, NAME_LENGTH),
            "detail": _detail(worth, worth.setting in open_settings),
            **told(worth),
        }
        for k, (sign, worth) in enumerate(named[:NAMED], start=1)
    ]
    if len(named) > NAMED:
        rows[-1]["detail"] += f"{_DOT}and {len(named) - NAMED} more in the table"
    base = alt.Chart(rows_of(rows)).encode(
        y=alt.Y("row:O", axis=None, scale=alt.Scale(paddingInner=0, paddingOuter=0))
    )

    def column(field: str, **style: Any) -> Any:
        mark = base.mark_text(baseline="middle", limit=0, align="left", **style)
        return mark.encode(x=alt.value(44), text=f"{field}:N")

    return alt.layer(
        *(layer.encode(x=alt.value(16), tooltip=list(TOLD)) for layer in _discs(base)),
        column("name", color=INK, fontSize=15, fontWeight="bold", dy=-10),
        column("detail", color=SOFT, fontSize=14, dy=10),
    ).properties(width=400, height=50 * max(len(rows), 1))


def _detail(worth: Worth, wide_open: bool) -> str:
    opening = f_number(worth.setting.f_number) + (" wide open" if wide_open else "")
    bound = "at most " if worth.at_limit else ""
    parts = [
        focal(worth.setting.focal_mm),
        opening,
        f"blur {bound}{percent(worth.lens_tightness_percent)}",
        f"score {worth.score.value:.0f}",
    ]
    return _DOT.join(parts if worth.eligible else [*parts, "over limit"])
