"""Steps made of questions: a form each, answered beside the page; and folders that take files."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response
from starlette.exceptions import HTTPException

from nightglass.bench.files import find_files
from nightglass.gear.benchfile import BenchFile, Site
from nightglass.gear.edited import change_bench, with_values
from nightglass.gear.lens import LensSetting
from nightglass.page import answers
from nightglass.page.apart import answered_apart
from nightglass.page.asked import (
    Form,
    InSession,
    OfBench,
    bench_page,
    go,
    is_part,
    page,
    taken,
    tally_of,
)
from nightglass.page.asks import Ask, AskedStep, Field, Run, Typed
from nightglass.page.blocks import blocks_of
from nightglass.page.jobs import KNOWN_FAULTS, Tell, Told, Work
from nightglass.page.questions.against import CHECKS, COMPARE, FINISH
from nightglass.page.questions.camera import LIGHT, SENSOR
from nightglass.page.questions.night import NIGHT
from nightglass.page.questions.shooting import WATCH
from nightglass.page.questions.sky import SKY
from nightglass.page.session import Session
from nightglass.page.steps.ranking import on_record
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
    asks = [_shown(request, bench, session, step, one) for one in found.asks]
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
    found = _step(step)
    if not found.drop:
        raise HTTPException(404)
    return await taken(request, bench.folder / found.drop, name)


@router.post("/{step}/{ask}")
def begin(
    request: Request, bench: OfBench, session: InSession, step: str, ask: str, form: Form
) -> Response:
    """Begin to answer a question."""
    one, counts = _ask(step, ask), tally_of(request, bench)
    made_of = answers.behind(bench, _step(step).drop, counts.measured)
    job = session.jobs.start(
        bench.folder, one.key, one.title, _work(one, bench, Typed(dict(form)), made_of)
    )
    job.typed = dict(form)
    if is_part(request):
        return _answer(request, bench, session, step, one)
    return go(f"/bench/{request.path_params['key']}/{step}#{ask}")


@router.get("/{step}/{ask}/answer")
def answer(request: Request, bench: OfBench, session: InSession, step: str, ask: str) -> Response:
    """Return the answer as far as it is."""
    return _answer(request, bench, session, step, _ask(step, ask))


@router.post("/{step}/{ask}/stop")
def stop(
    request: Request, bench: OfBench, session: InSession, step: str, ask: str, form: Form
) -> Response:
    """Stop answering; what was put on record stays."""
    one = _ask(step, ask)
    session.jobs.stop(bench.folder, one.key)
    answers.end(bench, one.key)
    if is_part(request):
        return _answer(request, bench, session, step, one)
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


def _work(one: Ask, bench: BenchFile, typed: Typed, made_of: dict[str, str]) -> Work:
    def work(tell: Tell) -> Told:
        answers.begin(bench, one.key, typed.texts)
        tell(0, 0, "")
        try:
            run = answered_apart if one.reads_files else _answered_here
            told = run(one.run, bench, typed, tell)
            answers.keep(bench, one.key, typed.texts, told, made_of)
        except KNOWN_FAULTS:
            answers.end(bench, one.key)
            raise
        answers.end(bench, one.key)
        return told

    return work


def _answered_here(run: Run, bench: BenchFile, typed: Typed, tell: Tell) -> Told:
    return run(bench, typed, tell)


def _shown(
    request: Request, bench: BenchFile, session: Session, step: str, one: Ask
) -> dict[str, Any]:
    def settings() -> list[LensSetting]:
        return [result.setting for result in on_record(bench, session).results]

    told = _told(request, bench, session, step, one)
    fields = [_filled(field, told["typed"]) for field in one.fields(bench, settings)]
    return {"ask": one, "fields": fields, **told}


def _filled(field: Field, typed: Mapping[str, str]) -> Field:
    return replace(field, value=typed[field.name]) if typed.get(field.name) else field


def _told(
    request: Request, bench: BenchFile, session: Session, step: str, one: Ask
) -> dict[str, Any]:
    """What runs of a question, what was cut off, and the answer given last."""
    job = session.jobs.of(bench.folder, one.key)
    answer, begun = answers.last(bench, one.key), None
    if job is None or not job.runs:
        begun = answers.cut_off(bench, one.key)
    asked = job or begun or answer
    now = answers.behind(bench, _step(step).drop, tally_of(request, bench).measured)
    return {
        "job": job,
        "begun": begun,
        "answer": answer,
        "changed": () if answer is None else answers.changed(answer, now),
        "typed": {} if asked is None else asked.typed,
        "blocks": [] if answer is None else blocks_of(answer.told.parts),
        **_files(bench, answer),
    }


def _files(bench: BenchFile, answer: answers.Answer | None) -> dict[str, list[str]]:
    """Files of an answer below out/ that are still there, and which of them are pictures."""
    out = bench.folder / "out"
    files = [] if answer is None else [bench.folder / file for file in answer.told.files]
    own = [f for f in files if f.is_relative_to(out) and ".." not in f.parts and f.exists()]
    below = [file.relative_to(out).as_posix() for file in own]
    drawn = {Path(name).with_suffix("") for name in below if name.endswith(".svg")}
    pictures = [
        name
        for name in below
        if name.endswith(".svg")
        or (name.endswith(".png") and Path(name).with_suffix("") not in drawn)
    ]
    return {"pictures": pictures, "files": below}


def _answer(request: Request, bench: BenchFile, session: Session, step: str, one: Ask) -> Response:
    base = f"/bench/{request.path_params['key']}"
    return page(
        request, "parts/answer.html", base=base, step_key=step, ask=one,
        **_told(request, bench, session, step, one),
    )  # fmt: skip
