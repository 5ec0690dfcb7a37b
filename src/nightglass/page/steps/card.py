"""Card: the dim red pictures, pages and prints for the night, and their downloads."""

from __future__ import annotations

from pathlib import Path

from fastapi import APIRouter, Request
from fastapi.responses import FileResponse, Response

from nightglass.bench.errors import BenchError
from nightglass.gear.benchfile import BenchFile
from nightglass.gear.lens import chosen_lenses
from nightglass.page.asked import Form, InSession, OfBench, bench_page, go, page
from nightglass.page.jobs import Tell, Told, Work
from nightglass.page.phone import HandedOver, hand_over
from nightglass.page.session import Session
from nightglass.page.steps.ranking import on_record, ranked
from nightglass.page.way import CARDS_FOLDER
from nightglass.show.card.bag import cards_of
from nightglass.show.card.files import write_cards
from nightglass.verdict.question import Question

router = APIRouter(prefix="/bench/{key}")
MAKING = "cards"
TYPES = {
    ".png": "image/png",
    ".svg": "image/svg+xml",
    ".pdf": "application/pdf",
    ".html": "text/html; charset=utf-8",
    ".csv": "text/csv; charset=utf-8",
    ".json": "application/json",
    ".ics": "text/calendar; charset=utf-8",
    ".txt": "text/plain; charset=utf-8",
}
"""What may be looked at or taken away from out/."""
OWN_POLICY = "sandbox; default-src 'none'; style-src 'unsafe-inline'; img-src data:; font-src data:"
"""Pages that this program wrote for the phone stand by themselves: no script, no request."""


@router.get("/card")
def card(request: Request, bench: OfBench, session: InSession) -> Response:
    """Show the cards that were made, with their downloads."""
    job = session.jobs.of(bench.folder, MAKING)
    return bench_page(
        request,
        bench,
        "card.html",
        "card",
        cards=_made(bench),
        job=job,
        phone=_phone(bench, session),
    )


@router.post("/card")
def make(request: Request, bench: OfBench, session: InSession, form: Form) -> Response:
    """Make the cards anew, beside the page."""
    session.jobs.start(bench.folder, MAKING, "Making the cards", _work(bench, session))
    return go(f"/bench/{request.path_params['key']}/card")


@router.post("/card/phone")
def phone(request: Request, bench: OfBench, session: InSession, form: Form) -> Response:
    """Give the pictures to a phone in the same network after a yes; without it, end that."""
    if session.phone is not None:
        session.phone.end()
        session.phone = None
    pictures = _pictures(bench)
    if form.get("yes") == "yes" and pictures:
        session.phone = hand_over(bench.folder, pictures)
    return go(f"/bench/{request.path_params['key']}/card")


@router.get("/card/progress")
def progress(request: Request, bench: OfBench, session: InSession) -> Response:
    """Return the part of the page that changes while cards are made."""
    job = session.jobs.of(bench.folder, MAKING)
    base = f"/bench/{request.path_params['key']}"
    return page(request, "parts/cards.html", base=base, cards=_made(bench), job=job)


@router.get("/out/{path:path}")
def made_file(bench: OfBench, path: str, take: bool = False) -> Response:
    """Return a file that was made of this bench; take: to be kept, not looked at."""
    folder = (bench.folder / "out").resolve()
    file = (folder / path).resolve() if "\0" not in path else folder
    kind = TYPES.get(file.suffix.lower())
    if kind is None or not file.is_relative_to(folder) or not file.is_file():
        return Response(status_code=404)
    headers = {"Content-Security-Policy": OWN_POLICY} if file.suffix.lower() == ".html" else {}
    disposition = "attachment" if take else "inline"
    return FileResponse(
        file, media_type=kind, filename=file.name, content_disposition_type=disposition,
        headers=headers,
    )  # fmt: skip


def _work(bench: BenchFile, session: Session) -> Work:
    def work(tell: Tell) -> Told:
        tell(0, 0, "")
        found = ranked(bench, session, Question.PICTURE)
        results = on_record(bench, session).results
        cards = cards_of(bench, chosen_lenses(bench.lenses, ()), found, results)
        if not any(one.standing for one in cards):
            raise BenchError("No card: no lens could be judged yet; measure frames first")
        written = write_cards(cards, bench.folder / "out" / CARDS_FOLDER)
        return Told(files=tuple(path for one in written for path in one.pictures))

    return work


def _made(bench: BenchFile) -> list[dict[str, object]]:
    """The pictures on disk, the bag first, each with its page and print."""
    folder = bench.folder / "out" / CARDS_FOLDER
    return [
        {
            "picture": _address(folder, picture),
            "name": picture.stem.replace("-", " "),
            "page": _address(folder, picture.with_suffix(".html")),
            "print": _address(folder, picture.with_suffix(".pdf")),
            "is_bag": picture.stem.startswith("bag"),
        }
        for picture in _pictures(bench)
    ]


def _pictures(bench: BenchFile) -> list[Path]:
    folder = bench.folder / "out" / CARDS_FOLDER
    return sorted(folder.glob("*.png"), key=lambda p: (not p.stem.startswith("bag"), p.name))


def _phone(bench: BenchFile, session: Session) -> HandedOver | None:
    """What a phone can fetch of this bench."""
    given = session.phone
    return given if given is not None and given.folder == bench.folder else None


def _address(folder: Path, file: Path) -> str:
    return f"{folder.name}/{file.name}" if file.exists() else ""
