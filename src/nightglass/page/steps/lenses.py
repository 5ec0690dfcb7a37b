"""Lenses: blur and light over zoom and f-number, the spots, and the frames behind a number."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response

from nightglass.bench.records import SettingResult
from nightglass.gear.benchfile import BenchFile
from nightglass.gear.lens import Lens
from nightglass.page.asked import InSession, OfBench, bench_page
from nightglass.page.live import live_chart
from nightglass.page.session import Session
from nightglass.page.steps.frames import frame_row, said_of
from nightglass.page.steps.ranking import on_record, ranked
from nightglass.show.chart_style import BLUR_RAMP, chart_svg
from nightglass.show.crops import half_for, spot_png
from nightglass.show.ranking.map_chart import lens_map_chart
from nightglass.show.words import NOT_TESTED, f_number, focal, percent
from nightglass.verdict.question import Question
from nightglass.verdict.records import Ranking, Worth

router = APIRouter(prefix="/bench/{key}")
SHADES = 2 * len(BLUR_RAMP) - 1
"""Steps of the map from light (little blur) to dark."""


@router.get("/lenses")
def lenses(request: Request, bench: OfBench, session: InSession) -> Response:
    """Show every lens: its map, and all its spots at one scale."""
    found = ranked(bench, session, Question.PICTURE)
    results = on_record(bench, session).results
    shown = [_lens(k, lens, results, found) for k, lens in enumerate(bench.lenses)]
    return bench_page(request, bench, "lenses.html", "lenses", lenses=shown)


@router.get("/lenses/{number}/{focal_mm}/{stop}")
def setting(
    request: Request,
    bench: OfBench,
    session: InSession,
    number: int,
    focal_mm: float,
    stop: float,
) -> Response:
    """Show one setting: each place with its spot, its numbers and the frames behind them."""
    result = _result(bench, session, number, focal_mm, stop)
    if result is None:
        raise ValueError("no frame of this setting is on record; choose one of the map")
    behind: dict[str, list[dict[str, Any]]] = {zone.place: [] for zone in result.zones}
    out = []
    for said in said_of(bench, session):
        if said.setting == result.setting:
            behind.setdefault(said.place, []).append(frame_row(said))
        elif said.reason and said.reason.startswith("left out"):
            out.append(frame_row(said))
    worths = ranked(bench, session, Question.PICTURE).worths
    worth = next((w for w in worths if w.setting == result.setting), None)
    body = bench.body
    zones = [
        {
            "place": zone.place,
            "left": 100 * (zone.x_px + 0.5) / body.width_px,
            "top": 100 * (zone.y_px + 0.5) / body.height_px,
            "spot": None if zone.stamp is None else k,
            "length": _size(zone.length_px, body.picture_height_px),
            "width": _size(zone.width_px, body.picture_height_px),
            "number": zone.frames,
            "flags": zone.flags,
            "frames": behind[zone.place],
        }
        for k, zone in enumerate(result.zones)
    ]
    return bench_page(
        request, bench, "setting.html", "lenses", result=result, zones=zones, worth=worth,
        number=number, left_out=out,
    )  # fmt: skip


@router.get("/lenses/{number}/{focal_mm}/{stop}/{zone}.png")
def spot(
    bench: OfBench, session: InSession, number: int, focal_mm: float, stop: float, zone: int
) -> Response:
    """Return the mean spot of a setting at one place; all spots of a lens have one scale."""
    result = _result(bench, session, number, focal_mm, stop)
    stamp = result.zones[zone].stamp if result and 0 <= zone < len(result.zones) else None
    if result is None or stamp is None:
        return Response(status_code=404)
    of_lens = [
        one.stamp
        for other in on_record(bench, session).results
        if other.setting.lens == result.setting.lens
        for one in other.zones
        if one.stamp is not None
    ]
    half = session.shelf.get(bench, "half", lambda: half_for(of_lens), result.setting.lens)
    return Response(spot_png(stamp, half), media_type="image/png")


@router.get("/lenses/{number}/map.svg")
def lens_map(bench: OfBench, session: InSession, number: int) -> Response:
    """Return the map of blur and light of a lens."""
    if not 0 <= number < len(bench.lenses):
        return Response(status_code=404)
    name = bench.lenses[number].name
    found = ranked(bench, session, Question.PICTURE)
    if not any(worth.setting.lens == name for worth in found.worths):
        return Response(status_code=404)
    drawn = session.shelf.get(bench, "map", lambda: chart_svg(lens_map_chart(name, found)), name)
    return Response(drawn, media_type="image/svg+xml")


@router.get("/lenses/{number}/map.json")
def map_to_draw(bench: OfBench, session: InSession, number: int) -> Response:
    """Return the map of a lens for the browser to draw."""
    found = ranked(bench, session, Question.PICTURE)
    name = bench.lenses[number].name if 0 <= number < len(bench.lenses) else ""
    if not any(worth.setting.lens == name for worth in found.worths):
        return Response(status_code=404)
    drawn = session.shelf.get(
        bench, "live map", lambda: live_chart(lens_map_chart(name, found), bench.lenses), name
    )
    return Response(drawn, media_type="application/json")


def _result(
    bench: BenchFile, session: Session, number: int, focal_mm: float, stop: float
) -> SettingResult | None:
    if not 0 <= number < len(bench.lenses):
        return None
    asked = bench.lenses[number].name, focal_mm, stop
    for result in on_record(bench, session).results:
        if (result.setting.lens, result.setting.focal_mm, result.setting.f_number) == asked:
            return result
    return None


def _lens(
    number: int, lens: Lens, results: tuple[SettingResult, ...], found: Ranking
) -> dict[str, Any]:
    mine = [result for result in results if result.setting.lens == lens.name]
    worths = {w.setting: w for w in found.worths if w.setting.lens == lens.name}
    top = max((w.lens_tightness_percent for w in found.worths), default=0.0)
    best = next((s.worth for s in found.standings if s.worth.setting.lens == lens.name), None)
    places = list(dict.fromkeys(zone.place for result in mine for zone in result.zones))
    return {
        "number": number,
        "name": lens.name,
        "settings": [
            _row(result, worths.get(result.setting), places, top, best) for result in mine
        ],
        "places": places,
        "best": best,
        "why_not": [one for one in found.not_ranked if one.lens == lens.name],
    }


def _row(
    result: SettingResult, worth: Worth | None, places: list[str], top: float, best: Worth | None
) -> dict[str, Any]:
    setting = result.setting
    zones = {zone.place: (k, zone) for k, zone in enumerate(result.zones)}
    share = 0.0 if worth is None or top <= 0 else worth.lens_tightness_percent / top
    return {
        "focal": focal(setting.focal_mm),
        "stop": f_number(setting.f_number),
        "at": f"{setting.focal_mm:g}/{setting.f_number:g}",
        "blur": NOT_TESTED if worth is None else percent(worth.lens_tightness_percent),
        "at_limit": worth is not None and worth.at_limit,
        "score": None if worth is None else f"{worth.score.value:.0f}",
        "shade": round(share * (SHADES - 1)),
        "best": best is not None and best.setting == setting,
        "spots": [
            zones[place][0] if place in zones and zones[place][1].stamp is not None else None
            for place in places
        ],
    }


def _size(value: Any, height_px: int) -> str:
    if value.value is not None:
        err = "" if value.err is None else f" ± {100 * value.err / height_px:.3f}"
        return f"{percent(100 * value.value / height_px)}{err}"
    if value.at_most is not None:
        return f"at most {percent(100 * value.at_most / height_px)}"
    return NOT_TESTED
