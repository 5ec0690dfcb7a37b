"""The start: benches on the list, a bench that is there, a new one."""

from __future__ import annotations

import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response
from starlette.concurrency import run_in_threadpool

from nightglass.gear.bag import BENCH_FILE_NAME, BenchFileError
from nightglass.gear.body import Body, Mosaic, pitch_um_of
from nightglass.gear.lens import Lens
from nightglass.gear.template import bench_template
from nightglass.gear.typed import number_of, span_of
from nightglass.page.asked import Form, InSession, OfBench, bench_page, check_key, go, page
from nightglass.page.reading import gear_in
from nightglass.page.uploads import place_for, take
from nightglass.show.shoot.start import make_bench

router = APIRouter()
LENS_ROWS = 6
"""Lenses that the form asks for; more are added later."""
EMPTY = dict.fromkeys(
    (
        "name", "folder", "body", "body_recorded", "sensor_width_mm", "width_px", "height_px",
        "mosaic",
    ),
    "",
)  # fmt: skip
"""Fields of the form but for the lenses."""
MOSAICS: dict[str, Mosaic] = {"bayer": "bayer", "6x6": "6x6", "none": "none"}


@router.get("/")
def start(request: Request, session: InSession) -> Response:
    """Show the benches on the list, and the two ways to another one."""
    return page(request, "start.html", benches=session.benches.listed())


@router.get("/new")
def new(request: Request) -> Response:
    """Show the form for a new bench."""
    return page(request, "new.html", **_form({}))


@router.post("/new")
def make(request: Request, session: InSession, form: Form) -> Response:
    """Make a bench of what was typed; show the form again with what is wrong."""
    try:
        folder = _folder(form)
        make_bench(folder, bench_template(_body(form), _lenses(form), form.get("name", "")))
    except BenchFileError as error:
        return page(request, "new.html", 422, **_form(form, error.problems))
    except ValueError as error:
        return page(request, "new.html", 422, **_form(form, (str(error),)))
    return go(f"/bench/{session.benches.remember(folder)}")


@router.post("/new/file")
async def gear_file(request: Request, name: str) -> Response:
    """Return the part of the form that a dropped frame fills in."""
    check_key(request)
    size = int(request.headers.get("content-length", "0"))
    with tempfile.TemporaryDirectory() as folder:
        landed = await take(Path(folder), place_for(name).name, request.stream().__aiter__(), size)
        found = await run_in_threadpool(gear_in, Path(folder) / landed.path, name)
    typed = {
        "body": found.body or "",
        "body_recorded": found.recorded_body or "",
        "width_px": str(found.width_px),
        "height_px": str(found.height_px),
        "mosaic": found.mosaic,
        "lens_0": found.lens or "",
        "recorded_0": found.recorded_lens or "",
        "focal_0": f"{found.focal_mm:g}" if found.focal_mm else "",
        "f_0": f"{found.f_number:g}" if found.f_number else "",
    }
    return page(request, "parts/gear.html", **_form(typed))


@router.post("/open")
def open_folder(request: Request, session: InSession, form: Form) -> Response:
    """Put a bench that is there on the list."""
    folder = Path(form.get("folder", "")).expanduser()
    if not form.get("folder") or not (folder / BENCH_FILE_NAME).is_file():
        fault = (
            f"{folder}: no {BENCH_FILE_NAME} there; give the whole path of a bench folder, or make "
            "a new bench"
        )
        return page(
            request, "start.html", 422, benches=session.benches.listed(), fault=fault,
            typed=form.get("folder", ""),
        )  # fmt: skip
    return go(f"/bench/{session.benches.remember(folder)}")


@router.post("/forget")
def forget(session: InSession, form: Form) -> Response:
    """Take a bench off the list."""
    session.benches.forget(form.get("key", ""))
    return go("/")


@router.get("/bench/{key}")
def overview(request: Request, bench: OfBench, session: InSession) -> Response:
    """Show the whole way of a bench, and where to go on."""
    session.benches.remember(bench.folder)
    return bench_page(request, bench, "overview.html", "")


def _form(typed: Mapping[str, str], faults: tuple[str, ...] = ()) -> dict[str, Any]:
    rows = [
        {name: typed.get(f"{name}_{k}", "") for name in ("lens", "recorded", "focal", "f")}
        for k in range(LENS_ROWS)
    ]
    default = Path.home() / "nightglass" / "first bench"
    return {
        "typed": {**EMPTY, "folder": str(default), "mosaic": "bayer", **typed},
        "rows": rows,
        "faults": faults,
    }


def _folder(form: Mapping[str, str]) -> Path:
    folder = Path(form.get("folder", "")).expanduser()
    if not form.get("folder") or not folder.is_absolute():
        raise ValueError(
            f'the folder is "{folder}"; give its whole path, such as {Path.home() / "first bench"}'
        )
    return folder


def _body(form: Mapping[str, str]) -> Body:
    width, height = (
        int(number_of(form.get(name, ""), words, example))
        for name, words, example in (
            ("width_px", "pixels across", "6000"),
            ("height_px", "pixels down", "4000"),
        )
    )
    sensor_mm = number_of(form.get("sensor_width_mm", ""), "the sensor's width in mm", "23.5")
    return Body(
        form.get("body", ""),
        pitch_um_of(sensor_mm, width),
        width,
        height,
        MOSAICS.get(form.get("mosaic", ""), "bayer"),
        recorded_as=_recorded_as(form.get("body", ""), form.get("body_recorded", "")),
    )


def _lenses(form: Mapping[str, str]) -> tuple[Lens, ...]:
    lenses = []
    for k in range(LENS_ROWS):
        name = form.get(f"lens_{k}", "")
        if name:
            focal = span_of(form.get(f"focal_{k}", ""), f"{name}: its focal length", "20 or 11-18")
            stop = span_of(form.get(f"f_{k}", ""), f"{name}: its f-number", "1.8 or 3.2-4.5")
            known_as = _recorded_as(name, form.get(f"recorded_{k}", ""))
            lenses.append(Lens(name, *focal, *stop, recorded_as=known_as))
    if not lenses:
        raise ValueError("no lens is named; name at least one, with focal length and f-number")
    return tuple(lenses)


def _recorded_as(name: str, recorded: str) -> tuple[str, ...]:
    """What the camera writes, where the person calls it otherwise: frames are known by it."""
    return (recorded,) if recorded and recorded != name else ()
