"""Noise against ISO, with the sky's own noise of the site beside it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Any

import altair as alt

from nightglass.sensor.records import SensorReport
from nightglass.show.chart_style import INK, KEPT, OVER, PAPER, SOFT, rows_of, shortened, styled
from nightglass.show.sensor.sentences import beyond_words, setting_words
from nightglass.show.sky.panel import wrapped
from nightglass.verdict.sky_noise import SkyNoise

WIDTH, HEIGHT = 620, 400
NAME_LENGTH = 40
SUBTITLE_SIZE = 15
ROOM = 1.35
APART = 1.2
"""Skies nearer than this would be one line."""
TICKS = (0.2, 0.3, 0.5, 0.7, 1, 1.5, 2, 3, 4, 5, 7, 10, 15, 20, 30, 50, 70, 100, 200, 300, 500)
READ, SKY, BOTH = "read noise", "the sky's own noise", "both together"


def noise_chart(report: SensorReport, skies: Sequence[SkyNoise]) -> Any:
    """Return read noise by ISO, the dimmest and the brightest sky, and sky and readout together.

    Raises ValueError if no read noise is known.
    """
    points = list(_points(report))
    if not points:
        raise ValueError("no read noise was measured: nothing to draw")
    shown = [one for one in skies[:1] if one.total_noise_e]
    if shown and skies[-1].noise_e > APART * shown[0].noise_e:
        shown.append(skies[-1])
    isos = sorted({row["iso"] for row in points})
    x = alt.X(
        "iso:O",
        sort=[str(iso) for iso in isos],
        axis=alt.Axis(title="ISO", labelAngle=0, grid=False),
        scale=alt.Scale(paddingOuter=0.25),
    )
    noises = [row["noise"] for row in points]
    noises += [one.noise_e for one in shown] + [n for one in shown for n in _totals(one)]
    domain = [min(noises) / ROOM, max(noises) * ROOM]
    layers = [*_sky_layers(shown, isos, x, domain), *_read_layers(points, x, domain)]
    chart = alt.layer(*layers).properties(width=WIDTH, height=HEIGHT)
    lines = [
        part
        for line in _lines(report, shown, skies)
        for part in wrapped(line, WIDTH + 60, SUBTITLE_SIZE)
    ]
    return styled(chart, "Noise against ISO", lines)


def _points(report: SensorReport) -> Iterator[dict[str, Any]]:
    for one in report.isos:
        known = one.colour().read_noise_e
        if known.value is not None and known.err is not None:
            low, high = known.value - 2 * known.err, known.value + 2 * known.err
            yield {
                "iso": one.iso, "noise": known.value, "low": max(low, 1e-3), "high": high,
                "text": f"{known.value:.2g}", "what": READ,
            }  # fmt: skip


def _totals(one: SkyNoise) -> list[float]:
    return list(one.total_noise_e.values())


def _y(field: str, domain: list[float]) -> Any:
    values = [tick for tick in TICKS if domain[0] <= tick <= domain[1]]
    axis = alt.Axis(title="noise of one green pixel [electrons]", values=values, format="~g")
    return alt.Y(f"{field}:Q", scale=alt.Scale(type="log", domain=domain, nice=False), axis=axis)


def _colour() -> Any:
    return alt.Color(
        "what:N",
        scale=alt.Scale(domain=[READ, SKY, BOTH], range=[KEPT, OVER, INK]),
        legend=alt.Legend(
            title=None, orient="bottom", labelFontSize=15, symbolType="stroke", symbolSize=600,
            symbolStrokeWidth=4, labelLimit=0, columnPadding=28,
        ),
    )  # fmt: skip


def _read_layers(points: list[dict[str, Any]], x: Any, domain: list[float]) -> Iterator[Any]:
    base = alt.Chart(rows_of(points)).encode(x=x, color=_colour())
    yield base.mark_line(strokeWidth=3).encode(y=_y("noise", domain))
    yield base.mark_rule(strokeWidth=2).encode(y=_y("low", domain), y2="high:Q")
    yield base.mark_point(size=130, filled=True, opacity=1).encode(y=_y("noise", domain))
    words = alt.Chart(rows_of(points)).mark_text(dx=-16, dy=18, fontSize=14, color=INK)
    yield words.encode(x=x, y=_y("noise", domain), text="text:N")


def _sky_layers(
    shown: Sequence[SkyNoise], isos: Sequence[int], x: Any, domain: list[float]
) -> Iterator[Any]:
    for one in shown:
        level = [{"iso": iso, "noise": one.noise_e, "what": SKY} for iso in isos]
        base = alt.Chart(rows_of(level)).encode(x=x, color=_colour())
        yield base.mark_line(strokeWidth=2.5, strokeDash=[8, 5]).encode(y=_y("noise", domain))
        total = [
            {"iso": iso, "noise": noise, "what": BOTH, "chosen": iso == one.working.iso}
            for iso, noise in one.total_noise_e.items()
            if iso in isos
        ]
        both = alt.Chart(rows_of(total)).encode(x=x, color=_colour())
        yield both.mark_line(strokeWidth=1.5).encode(y=_y("noise", domain))
        chosen = both.transform_filter("datum.chosen").encode(y=_y("noise", domain))
        yield chosen.mark_point(size=240, filled=True, opacity=1).encode(color=alt.value(PAPER))
        yield chosen.mark_point(size=240, filled=False, opacity=1, strokeWidth=3)
        yield _name(one, isos, x, domain)


def _name(one: SkyNoise, isos: Sequence[int], x: Any, domain: list[float]) -> Any:
    """The sky's setting, above the left end of its line: read noise is high there."""
    row = {
        "iso": isos[-1],
        "noise": one.noise_e,
        "name": shortened(setting_words(one), NAME_LENGTH),
    }
    text = alt.Chart(rows_of([row])).mark_text(
        align="right", dx=WIDTH / len(isos) / 3, dy=14, fontSize=14, color=SOFT, limit=0
    )
    return text.encode(x=x, y=_y("noise", domain), text="name:N")


def _lines(
    report: SensorReport, shown: Sequence[SkyNoise], skies: Sequence[SkyNoise]
) -> Iterator[str]:
    name = report.body or "body not recorded"
    yield f"{name}. {beyond_words(skies) if shown else ''}".strip()
    if shown:
        yield "Rings: the ISO to set, where both together stand within 5 % of the best step."
    if report.second_gain_iso is not None:
        yield f"The sensor's second gain begins at ISO {report.second_gain_iso}."


def finite_noise(report: SensorReport) -> bool:
    """Return whether there is a read noise to draw."""
    return any(math.isfinite(row["noise"]) for row in _points(report))
