"""The application: its steps, its errors in words, its guard."""

from __future__ import annotations

import secrets
from collections.abc import Awaitable, Callable

from fastapi import FastAPI, Request
from fastapi.responses import Response
from fastapi.staticfiles import StaticFiles
from fastapi.telemetry import TelemetryConfig
from starlette.exceptions import HTTPException

from nightglass.bench.errors import BenchError
from nightglass.frame.errors import FrameError, in_one_line
from nightglass.gear.bag import BenchFileError
from nightglass.page import asked
from nightglass.page.asked import ForeignFormError, page, session_of
from nightglass.page.benches import UnknownBenchError
from nightglass.page.jobs import BusyError
from nightglass.page.safety import App, Guard
from nightglass.page.session import Session
from nightglass.page.shown import LOOKS, PAGE_FOLDER, refusal_page
from nightglass.page.steps import asked as questions
from nightglass.page.steps import card, frames, lenses, plan, ranking, report, start
from nightglass.show.typefaces import FONT_FOLDER

STEPS = (start, plan, frames, lenses, ranking, card, report, questions)
"""The questions last: they take any step that has no file of its own."""
STATUS: tuple[tuple[type[Exception], int], ...] = (
    (ForeignFormError, 403),
    (UnknownBenchError, 404),
    (BusyError, 409),
    (BenchFileError, 422),
    (BenchError, 409),
    (FrameError, 422),
    (ValueError, 422),
    (OSError, 500),
)
"""Errors that carry words for the person, with the status of their page; the first that fits."""
SILENT: TelemetryConfig = {
    "tracing": False,
    "metrics": False,
    "logs": False,
    "auto_configure": False,
}
"""Nothing is told to anybody, whatever the environment says."""
COOKIE_DAYS = 400


def make_app(session: Session) -> App:
    """Return the application of one run, guarded."""
    app = FastAPI(telemetry=SILENT, docs_url=None, redoc_url=None, openapi_url=None)
    app.state.session = session
    app.mount("/static/fonts", StaticFiles(directory=FONT_FOLDER), name="fonts")
    app.mount("/static", StaticFiles(directory=PAGE_FOLDER / "static"), name="static")
    app.get("/enter")(enter)
    app.post("/look")(look)
    for step in STEPS:
        app.include_router(step.router)
    for kind, status in STATUS:
        app.add_exception_handler(kind, _told(status))
    app.add_exception_handler(HTTPException, _missing)
    app.add_exception_handler(Exception, _own_fault)
    return Guard(app, session)


def enter(request: Request, token: str = "", bench: str = "") -> Response:
    """Let the browser in that comes with the token, and lead it on."""
    session = session_of(request)
    if not secrets.compare_digest(token.encode(), session.token.encode()):
        words = "This address is not the one that the terminal printed; copy it whole."
        return Response(refusal_page(words), 403, media_type="text/html")
    known = {one.key for one in session.benches.listed()}
    answer = asked.go(f"/bench/{bench}" if bench in known else "/")
    answer.set_cookie(session.cookie_name, session.cookie, httponly=True, samesite="strict")
    return answer


def look(request: Request, form: asked.Form) -> Response:
    """Change between the look of the day and the dim red of the night."""
    wanted = form.get("look", LOOKS[0])
    answer = asked.go(_own_address(form.get("back", "/")))
    answer.set_cookie(
        asked.LOOK_COOKIE,
        wanted if wanted in LOOKS else LOOKS[0],
        max_age=COOKIE_DAYS * 86_400,
        httponly=True,
        samesite="strict",
    )
    return answer


def _own_address(address: str) -> str:
    """An address of this page; whatever else was given leads to the start."""
    fine = address.startswith("/") and not address.startswith("//") and "\\" not in address
    return address if fine and address.isprintable() else "/"


def _told(status: int) -> Callable[[Request, Exception], Awaitable[Response]]:
    async def handler(request: Request, error: Exception) -> Response:
        lines = error.problems if isinstance(error, BenchFileError) else (in_one_line(error),)
        template = "parts/fault.html" if asked.is_part(request) else "fault.html"
        return page(request, template, status, lines=lines, back=_back(request))

    return handler


async def _missing(request: Request, error: Exception) -> Response:
    status = error.status_code if isinstance(error, HTTPException) else 404
    words = "There is no such page here; begin at the start."
    return page(request, "fault.html", status, lines=(words,), back="/")


async def _own_fault(request: Request, error: Exception) -> Response:
    """What is left is a fault of the program; the terminal has the whole of it."""
    words = (
        f"An error of the program itself ({type(error).__name__}). What is on record stays. Go "
        "back and try again; if it comes again, please report it with what the terminal shows."
    )
    template = "parts/fault.html" if asked.is_part(request) else "fault.html"
    return page(request, template, 500, lines=(words,), back=_back(request))


def _back(request: Request) -> str:
    key = request.path_params.get("key")
    return "/" if key is None or request.url.path == f"/bench/{key}" else f"/bench/{key}"
