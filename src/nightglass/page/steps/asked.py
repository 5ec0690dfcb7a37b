"""Steps made of questions: a form each, answered beside the page; and folders that take files."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse, Response
from starlette.exceptions import HTTPException

from nightglass.bench.files import find_files
from nightglass.gear.benchfile import BenchFile, Site
from nightglass.gear.edited import change_bench, with_values
from nightglass.gear.lens import LensSetting
from nightglass.page.asked import (
    Form,
    InSession,
    OfBench,
    bench_page,
    check_key,
    go,
    is_part,
    page,
)
from nightglass.page.asks import Ask, AskedStep, Field, Typed
from nightglass.page.blocks import blocks_of
from nightglass.page.jobs import Job, Tell, Told
from nightglass.page.questions.against import CHECKS, COMPARE, FINISH
from nightglass.page.questions.camera import LIGHT, SENSOR
from nightglass.page.questions.night import NIGHT
from nightglass.page.questions.shooting import WATCH
from nightglass.page.questions.sky import SKY
from nightglass.page.session import Session
from nightglass.page.steps.ranking import on_record
from nightglass.page.uploads import RefusedUploadError, take
from nightglass.plan.where import where

router = APIRouter(prefix="/bench/{key}")
ASKED = {one.key: one for one in (CHECKS, COMPARE, SKY, NIGHT, SENSOR, LIGHT, FINISH, WATCH)}


@router.post("/site")
def keep_site(request: Request, bench: OfBench, form: Form) -> Response:
    """Keep the person's dark place in bench.toml, for all steps and the card."""
    site = Site(form.get("place"), form.get("zone") or None, name=form.get("name", ""))
    where(None, site=site)
    change = with_values("site", place=site.place, zone=site.zone, name=site.name or None)
    change_bench(bench, form.get("state", ""), change)
    return go(f"/bench/{request.path_params['key']}/night#site")


@router.get("/{step}")
def asked_step(request: Request, bench: OfBench, session: InSession, step: str) -> Response:
    """Show the questions of a step with the answers given last."""
    found = _step(step)
    asks = [_shown(one, bench, session) for one in found.asks]
    files: tuple[str, ...] = ()
    if found.drop:
        folder = bench.folder / found.drop
        files = tuple(f.path for f in find_files(folder).files) if folder.is_dir() else ()
    return bench_page(
        request, bench, "asked.html", step, asked=found, asks=asks, files=files,
        site=bench.site if step == "night" else None,
    )  # fmt: skip


@router.post("/{step}/file")
async def drop(request: Request, bench: OfBench, step: str, name: str) -> Response:
    """Take one file into the folder of a step."""
    check_key(request)
    found = _step(step)
    if not found.drop:
        raise HTTPException(404)
    folder = bench.folder / found.drop
    folder.mkdir(exist_ok=True)
    size = int(request.headers.get("content-length", "0"))
    try:
        landed = await take(folder, name, request.stream().__aiter__(), size)
    except RefusedUploadError as error:
        return JSONResponse({"fault": str(error)}, 422)
    return JSONResponse({"path": landed.path, "state": landed.state})


@router.post("/{step}/{ask}")
def begin(
    request: Request, bench: OfBench, session: InSession, step: str, ask: str, form: Form
) -> Response:
    """Begin to answer a question."""
    one = _ask(step, ask)

    def work(tell: Tell) -> Told:
        tell(0, 0, "")
        return one.run(bench, Typed(form), tell)

    job = session.jobs.start(bench.folder, one.key, one.title, work)
    job.typed = dict(form)
    if is_part(request):
        return _answer(request, bench, step, one, job)
    return go(f"/bench/{request.path_params['key']}/{step}#{ask}")


@router.get("/{step}/{ask}/answer")
def answer(request: Request, bench: OfBench, session: InSession, step: str, ask: str) -> Response:
    """Return the answer as far as it is."""
    one = _ask(step, ask)
    return _answer(request, bench, step, one, session.jobs.of(bench.folder, one.key))


@router.post("/{step}/{ask}/stop")
def stop(
    request: Request, bench: OfBench, session: InSession, step: str, ask: str, form: Form
) -> Response:
    """Stop answering; what was put on record stays."""
    one = _ask(step, ask)
    session.jobs.stop(bench.folder, one.key)
    if is_part(request):
        return _answer(request, bench, step, one, session.jobs.of(bench.folder, one.key))
    return go(f"/bench/{request.path_params['key']}/{step}#{ask}")


def _step(key: str) -> AskedStep:
    found = ASKED.get(key)
    if found is None:
        raise HTTPException(404)
    return found


def _ask(step: str, key: str) -> Ask:
    found = _step(step).ask(key)
    if found is None:
        raise HTTPException(404)
    return found


def _shown(one: Ask, bench: BenchFile, session: Session) -> dict[str, Any]:
    job = session.jobs.of(bench.folder, one.key)
    typed = {} if job is None else job.typed

    def settings() -> list[LensSetting]:
        return [result.setting for result in on_record(bench, session).results]

    fields = [_filled(field, typed) for field in one.fields(bench, settings)]
    return {"ask": one, "fields": fields, **_told(bench, job)}


def _filled(field: Field, typed: dict[str, str]) -> Field:
    return replace(field, value=typed[field.name]) if typed.get(field.name) else field


def _told(bench: BenchFile, job: Job | None) -> dict[str, Any]:
    out = bench.folder / "out"
    files = [] if job is None else [f for f in job.told.files if f.exists()]
    below = [file.relative_to(out).as_posix() for file in files if file.is_relative_to(out)]
    drawn = {Path(name).with_suffix("") for name in below if name.endswith(".svg")}
    return {
        "job": job,
        "blocks": [] if job is None else blocks_of(job.told.parts),
        "pictures": [
            name
            for name in below
            if name.endswith(".svg")
            or (name.endswith(".png") and Path(name).with_suffix("") not in drawn)
        ],
        "files": below,
    }


def _answer(request: Request, bench: BenchFile, step: str, one: Ask, job: Job | None) -> Response:
    base = f"/bench/{request.path_params['key']}"
    return page(
        request, "parts/answer.html", base=base, step_key=step, ask=one, **_told(bench, job)
    )
