"""Frames: dropped files land below frames/, are measured beside the page, and are judged."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response

from nightglass.bench.files import FRAMES_FOLDER
from nightglass.bench.measuring.measure import MeasureReport, Progress, measure_folder
from nightglass.bench.store.store import open_store
from nightglass.bench.tally import Tally, tally
from nightglass.gear.benchfile import BenchFile
from nightglass.gear.edited import change_bench, leave_out, take_in, undo_change
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
from nightglass.page.jobs import Job, Tell, Told
from nightglass.page.session import Session
from nightglass.shoot.codes import FrameWord
from nightglass.shoot.watching import FrameSaid, said_of_all
from nightglass.show.crops import crop_png
from nightglass.show.shoot.watch_text import measured_words, verdict_words, where_words
from nightglass.show.shoot.words import count_words

router = APIRouter(prefix="/bench/{key}")
MEASURING = "measuring"
ON_A_PAGE = 48
LATEST = 8
SHOWN: dict[str, tuple[str, Callable[[FrameSaid], bool]]] = {
    "all": ("all", lambda said: True),
    "again": ("to shoot again", lambda said: said.again),
    "good": ("good", lambda said: said.setting is not None and not said.again),
    "unused": ("not used", lambda said: said.setting is None),
}
LEFT_OUT = "left out in bench.toml: "


@router.get("/frames")
def frames(
    request: Request, bench: OfBench, session: InSession, show: str = "all", number: int = 1
) -> Response:
    """Show the frames on record, a page of them at a time, and what runs."""
    show = show if show in SHOWN else "all"
    # Work that ends while counts are taken is shown as running: the next look has the last ones.
    before = session.jobs.of(bench.folder, MEASURING)
    counts = tally_of(request, bench)
    _go_on(bench, session, counts)
    job = before if before is not None and before.runs else session.jobs.of(bench.folder, MEASURING)
    return bench_page(
        request, bench, "frames.html", "frames", **_listed(bench, session, show, number),
        **_progress(bench, session, job, counts),
    )  # fmt: skip


@router.get("/frames/progress")
def progress(request: Request, bench: OfBench, session: InSession) -> Response:
    """Return the part of the page that changes while frames are measured."""
    base = f"/bench/{request.path_params['key']}"
    job = session.jobs.of(bench.folder, MEASURING)
    return page(
        request, "parts/progress.html", base=base, **_progress(bench, session, job, tally(bench))
    )


@router.post("/frames/file")
async def upload(request: Request, bench: OfBench, name: str) -> Response:
    """Take one file into frames/; the answer says what became of it."""
    return await taken(request, bench.folder / FRAMES_FOLDER, name)


@router.post("/frames/measure")
def measure(request: Request, bench: OfBench, session: InSession, form: Form) -> Response:
    """Measure what is new; what is on record is skipped."""
    start_measuring(bench, session)
    return _after(request, bench, session)


@router.post("/frames/stop")
def stop(request: Request, bench: OfBench, session: InSession, form: Form) -> Response:
    """Stop after the frames in hand; what is on record stays."""
    session.jobs.stop(bench.folder, MEASURING)
    _mark(bench, False)
    return _after(request, bench, session)


@router.post("/frames/leave-out")
def leave_frame_out(request: Request, bench: OfBench, form: Form) -> Response:
    """Keep a frame out of the results, with the reason that the person gives."""
    reason = form.get("reason", "")
    if not reason:
        raise ValueError("no reason given; say in a few words why this frame does not count")
    change_bench(bench, form.get("state", ""), leave_out(form.get("path", ""), reason))
    return go(_back(request, form))


@router.post("/frames/take-in")
def take_frame_in(request: Request, bench: OfBench, form: Form) -> Response:
    """Take a frame back into the results."""
    change_bench(bench, form.get("state", ""), take_in(form.get("path", "")))
    return go(_back(request, form))


@router.post("/undo")
def undo(request: Request, bench: OfBench, form: Form) -> Response:
    """Put back what bench.toml said before the last change."""
    undo_change(bench, form.get("state", ""))
    return go(_back(request, form))


@router.get("/crop/{path:path}")
def crop(bench: OfBench, path: str) -> Response:
    """Return the rebuilt spot of a frame as a picture."""
    store = open_store(bench)
    try:
        found = store.stamps([path]).get(path)
    finally:
        store.close()
    if found is None:
        return Response(status_code=404)
    return Response(crop_png(found.light), media_type="image/png")


def start_measuring(bench: BenchFile, session: Session) -> None:
    """Begin to measure what is new in a bench; it goes on until nothing waits."""
    _mark(bench, True)
    folder = bench.folder

    def work(tell: Tell) -> Told:
        while True:
            report = measure_folder(
                folder,
                on_progress=_told_to(tell),
                opener=session.opener,
                measurer=session.measurer,
            )
            # Files may have landed while it ran.
            if not report.measured or not tally(bench).waiting:
                _mark(bench, False)
                return _told(report)

    session.jobs.start(folder, MEASURING, "Measuring", work)


def frame_row(said: FrameSaid) -> dict[str, Any]:
    """Return what the list shows of a frame."""
    left_out = said.reason or ""
    return {
        "path": said.path,
        "verdict": verdict_words(said),
        "where": where_words(said) if said.setting else "",
        "size": measured_words(said) if said.setting else "",
        "mark": _mark_of(said),
        "has_crop": said.setting is not None or FrameWord.NOT_USED in said.words,
        "left_out": left_out.removeprefix(LEFT_OUT) if left_out.startswith(LEFT_OUT) else "",
    }


def said_of(bench: BenchFile, session: Session) -> tuple[FrameSaid, ...]:
    """Return what is said of the frames on record, kept while nothing changes."""
    return session.shelf.get(bench, "said", lambda: said_of_all(bench))


def _lists(everything: tuple[FrameSaid, ...]) -> dict[str, list[FrameSaid]]:
    return {name: [one for one in everything if fits(one)] for name, (_, fits) in SHOWN.items()}


def _mark_of(said: FrameSaid) -> str:
    if said.again or FrameWord.NOT_READ in said.words:
        return "again"
    return "good" if said.setting is not None else "unused"


def _listed(bench: BenchFile, session: Session, show: str, number: int) -> dict[str, Any]:
    lists = session.shelf.get(bench, "lists", lambda: _lists(said_of(bench, session)))
    chosen = lists[show]
    pages = max(1, -(-len(chosen) // ON_A_PAGE))
    number = min(max(number, 1), pages)
    first = (number - 1) * ON_A_PAGE
    return {
        "rows": [frame_row(said) for said in chosen[first : first + ON_A_PAGE]],
        "show": show,
        "shown": [(name, words, len(lists[name])) for name, (words, _) in SHOWN.items()],
        "number": number,
        "pages": pages,
    }


def _progress(bench: BenchFile, session: Session, job: Job | None, counts: Tally) -> dict[str, Any]:
    latest: list[dict[str, Any]] = []
    if job is not None and job.runs:
        everything = session.shelf.lately(bench, "said", lambda: said_of_all(bench))
        by_path = {said.path: said for said in everything}
        latest = [frame_row(by_path[path]) for path in _last_paths(job.what) if path in by_path]
    return {"job": job, "counts": counts, "latest": latest}


def _last_paths(what: str) -> list[str]:
    return [path for path in what.split("\n") if path][-LATEST:][::-1]


def _told_to(tell: Tell) -> Callable[[Progress], None]:
    """Hand progress on, with the names of the frames that came last."""
    last: list[str] = []

    def told(progress: Progress) -> None:
        last.append(progress.path)
        del last[:-LATEST]
        tell(progress.done, progress.total, "\n".join(last))

    return told


def _told(report: MeasureReport) -> Told:
    lines = [f"{count_words(report.files, 'file')}, {len(report.refused)} of them not usable."]
    return Told((*lines, *report.hints))


def _after(request: Request, bench: BenchFile, session: Session) -> Response:
    if is_part(request):
        return progress(request, bench, session)
    return go(f"/bench/{request.path_params['key']}/frames")


def _back(request: Request, form: Form) -> str:
    """The page of this bench where the form stood."""
    base = f"/bench/{request.path_params['key']}"
    back = form.get("back", "")
    return back if back.startswith(f"{base}/") and back.isprintable() else f"{base}/frames"


_SUBJECT, _KEY = "page", "measuring"


def _mark(bench: BenchFile, wanted: bool) -> None:
    """Keep on record whether measuring is to go on when the page is opened again."""
    store = open_store(bench)
    try:
        store.keep_content(_SUBJECT, _KEY, b"wanted" if wanted else b"")
    finally:
        store.close()


def _go_on(bench: BenchFile, session: Session, counts: Tally) -> None:
    """Go on with measuring that ended with an earlier run of the page."""
    job = session.jobs.of(bench.folder, MEASURING)
    if job is not None or not counts.waiting:
        return
    store = open_store(bench)
    try:
        wanted = store.find(_SUBJECT, _KEY) == b"wanted"
    finally:
        store.close()
    if wanted and session.jobs.running(bench.folder) is None:
        start_measuring(bench, session)
