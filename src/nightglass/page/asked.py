"""What a request asks: its session, its bench, its form; and the answer as a page."""

from __future__ import annotations

import errno
import secrets
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any

from fastapi import Depends, Request
from fastapi.responses import HTMLResponse, JSONResponse, RedirectResponse, Response
from starlette.requests import ClientDisconnect

from nightglass.bench.tally import Tally, tally
from nightglass.frame.errors import in_one_line
from nightglass.gear.benchfile import BenchFile
from nightglass.gear.edited import can_undo, state_of
from nightglass.page.session import Session
from nightglass.page.shown import LOOKS, render
from nightglass.page.uploads import RefusedUploadError, shown_name, take
from nightglass.page.way import way_of
from nightglass.show.shoot.files import bench_name

MOST_FIELDS = 200
LONGEST_FIELD_BYTES = 100_000
LOOK_COOKIE = "nightglass_look"


class ForeignFormError(PermissionError):
    """A form without the key of this run."""


def session_of(request: Request) -> Session:
    """Return the session of this run."""
    found: Session = request.app.state.session
    return found


def bench_of(request: Request, key: str) -> BenchFile:
    """Return the bench in the address. Raises UnknownBenchError, BenchFileError."""
    return session_of(request).benches.bench(key)


def tally_of(request: Request, bench: BenchFile) -> Tally:
    """Return the counts of a bench's frames, taken once for a request. Raises StoreError."""
    if not hasattr(request.state, "tally"):
        request.state.tally = tally(bench)
    found: Tally = request.state.tally
    return found


async def form_of(request: Request) -> Mapping[str, str]:
    """Return the texts of a form. Raises ForeignFormError where it lacks the key of this run."""
    form = await request.form(
        max_files=0, max_fields=MOST_FIELDS, max_part_size=LONGEST_FIELD_BYTES
    )
    texts = {name: value.strip() for name, value in form.items() if isinstance(value, str)}
    check_key(request, texts.pop("form_key", ""))
    return texts


def check_key(request: Request, typed: str = "") -> None:
    """Raise ForeignFormError unless form or header has the key of this run."""
    given = typed or request.headers.get("x-form-key", "")
    if not secrets.compare_digest(given.encode(), session_of(request).form_key.encode()):
        raise ForeignFormError(
            "This form is from an earlier run of the page, so nothing was done. Load the page "
            "again, then send it once more."
        )


InSession = Annotated[Session, Depends(session_of)]
OfBench = Annotated[BenchFile, Depends(bench_of)]
Form = Annotated[Mapping[str, str], Depends(form_of)]


def is_part(request: Request) -> bool:
    """Whether only a part of a page was asked for."""
    return request.headers.get("hx-request") == "true"


def look_of(request: Request) -> str:
    """Return how the page is to look: day or night."""
    look = request.cookies.get(LOOK_COOKIE, LOOKS[0])
    return look if look in LOOKS else LOOKS[0]


def page(request: Request, template: str, status: int = 200, **values: Any) -> Response:
    """Return a page, or a part of one, from a template."""
    session = session_of(request)
    common = {
        "look": look_of(request),
        "form_key": session.form_key,
        "here": request.url.path,
    }
    return HTMLResponse(render(template, **common, **values), status_code=status)


def bench_page(
    request: Request, bench: BenchFile, template: str, step: str, **values: Any
) -> Response:
    """Return a page of a bench, with its way and what comes next."""
    session = session_of(request)
    key = request.path_params["key"]
    way = way_of(bench, session, tally_of(request, bench))
    common = {
        "bench": bench,
        "bench_name": bench_name(bench),
        "base": f"/bench/{key}",
        "way": way,
        "step": next((stop for stop in way if stop.key == step), way[0]),
        "state": state_of(bench),
        "undoable": can_undo(bench),
    }
    return page(request, template, **{**common, **values})


def go(address: str) -> Response:
    """Return the answer that leads to another page after something was done."""
    return RedirectResponse(address, status_code=303)


async def taken(request: Request, folder: Path, name: str) -> Response:
    """Take the file that is the body of a request into a folder; say what became of it.

    Raises ForeignFormError.
    """
    check_key(request)
    size = int(request.headers.get("content-length", "0"))
    try:
        folder.mkdir(exist_ok=True)
        landed = await take(folder, name, request.stream().__aiter__(), size)
    except RefusedUploadError as error:
        return JSONResponse({"fault": str(error)}, 422)
    except ClientDisconnect:
        # Nobody is there to hear it; of the file nothing is left.
        return Response(status_code=400)
    except OSError as error:
        full = "the disk is full; free some space, then send it again"
        words = full if error.errno == errno.ENOSPC else in_one_line(error)
        return JSONResponse({"fault": f"{shown_name(name)}: {words}"}, 507)
    return JSONResponse({"path": landed.path, "state": landed.state})
