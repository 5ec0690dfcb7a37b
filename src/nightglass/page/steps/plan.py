"""Plan: the session at the bench as a shot list that remembers ticks."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response

from nightglass.bench.store.store import open_store
from nightglass.gear.benchfile import BenchFile
from nightglass.page.asked import Form, OfBench, bench_page, go, is_part, page
from nightglass.page.asks import Typed
from nightglass.shoot.asked import Asked
from nightglass.shoot.plan_on_record import last_plan, plan_and_keep
from nightglass.shoot.records import BenchPlan
from nightglass.shoot.watching import Session as Standing
from nightglass.shoot.watching import plan_is_old, session
from nightglass.show.shoot.cautions import REMINDERS, SHORT_CAUTIONS
from nightglass.show.shoot.files import write_plan_and_sheet
from nightglass.show.shoot.sentences import (
    cut_lines,
    distance_line,
    focus_lines,
    opening,
    problem_lines,
    source_line,
)
from nightglass.show.shoot.stations import stations
from nightglass.show.shoot.watch_text import next_lines

router = APIRouter(prefix="/bench/{key}")
TICKS = "page ticks"


@router.get("/plan")
def plan(request: Request, bench: OfBench) -> Response:
    """Show the plan made last, with what is done of it; or what a plan needs to know."""
    made, now, ticks = _standing(bench)
    shown: dict[str, Any] = {"made": made, "asked": bench.plan}
    if made is not None and now is not None:
        shown |= _shown(made, now, bench) | _done(made, now, ticks)
    return bench_page(request, bench, "plan.html", "plan", **shown)


@router.post("/plan")
def make(request: Request, bench: OfBench, form: Form) -> Response:
    """Make the plan anew, keep it, and write it for phone and paper."""
    typed = Typed(form)
    made = plan_and_keep(
        bench,
        Asked(
            hours=typed.number("hours", "4"),
            room_m=typed.number("room_m", "12"),
            source_mm=typed.number("source_mm", "0.5"),
            tell_percent=typed.number("tell_percent", "10"),
            add=typed.flag("add"),
        ),
    )
    write_plan_and_sheet(made, bench)
    return go(f"/bench/{request.path_params['key']}/plan")


@router.post("/plan/tick")
def tick(request: Request, bench: OfBench, form: Form) -> Response:
    """Remember a tick, or take it away."""
    box = form.get("box", "")
    store = open_store(bench)
    try:
        made = last_plan(store)
        if made is None or box.rpartition("-")[0] not in {line.id for line in made.lines}:
            raise ValueError("the plan was made anew since; load this page again, then tick")
        store.keep_content(TICKS, box, box.encode() if "on" in form else b"")
    finally:
        store.close()
    if not is_part(request):
        return go(f"/bench/{request.path_params['key']}/plan")
    made, now, ticks = _standing(bench)
    if made is None or now is None:
        return Response(status_code=204)
    return page(request, "parts/plan_now.html", **_done(made, now, ticks))


def _standing(bench: BenchFile) -> tuple[BenchPlan | None, Standing | None, frozenset[str]]:
    store = open_store(bench)
    try:
        made = last_plan(store)
        if made is None:
            return None, None, frozenset()
        ticks = frozenset(content.decode() for content in store.contents(TICKS) if content)
        return made, session(store, bench, made), ticks
    finally:
        store.close()


def _shown(made: BenchPlan, now: Standing, bench: BenchFile) -> dict[str, Any]:
    return {
        "opening": opening(made),
        "cuts": cut_lines(made),
        "problems": problem_lines(made),
        "distance": [distance_line(made), source_line(made), *focus_lines(made)],
        "stations": stations(made),
        "reminders": [*REMINDERS, SHORT_CAUTIONS],
        "is_old": plan_is_old(made, bench),
    }


def _done(made: BenchPlan, now: Standing, ticks: frozenset[str]) -> dict[str, Any]:
    there = {
        f"{line.id}-{turn}"
        for line in made.lines
        for turn in range(1, now.filled.counts.get(line.id, 0) + 1)
    }
    boxes = {f"{line.id}-{turn}" for line in made.lines for turn in range(1, line.frames + 1)}
    return {
        "there": there,
        "ticks": ticks & boxes,
        "done": len((there | ticks) & boxes),
        "total": len(boxes),
        "coming": [line.strip() for line in next_lines(now)],
    }
