"""Report: everything that was made of a bench, to look at and to take away."""

from __future__ import annotations

import io
import zipfile
from datetime import datetime
from pathlib import Path
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response

from nightglass.gear.benchfile import BenchFile
from nightglass.page.asked import InSession, OfBench, bench_page
from nightglass.page.session import Session
from nightglass.page.shown import moment
from nightglass.page.steps.card import TYPES
from nightglass.page.steps.frames import LEFT_OUT, said_of

router = APIRouter(prefix="/bench/{key}")
KINDS = {
    ".html": "pages", ".pdf": "prints", ".png": "pictures", ".svg": "pictures", ".csv": "tables",
    ".json": "data", ".ics": "calendars", ".txt": "texts",
}  # fmt: skip


LEFT_OUT_FILE = "left-out.txt"


@router.get("/report")
def report(request: Request, bench: OfBench, session: InSession) -> Response:
    """List what lies in out/, by its kind, and the frames that were left out, with the reasons."""
    groups: dict[str, list[dict[str, Any]]] = {}
    for file in _files(bench):
        groups.setdefault(KINDS[file.suffix.lower()], []).append(
            {
                "name": file.relative_to(bench.folder / "out").as_posix(),
                "made": moment(datetime.fromtimestamp(file.stat().st_mtime)),
                "look": file.suffix.lower() in (".html", ".pdf", ".png", ".svg"),
            }
        )
    order = dict.fromkeys(KINDS.values())
    shown = [(kind, groups[kind]) for kind in order if kind in groups]
    return bench_page(
        request, bench, "report.html", "report", groups=shown, left_out=_left_out(bench, session)
    )


@router.get("/report.zip")
def everything(bench: OfBench, session: InSession) -> Response:
    """Return all of it in one file."""
    left_out = _left_out(bench, session)
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for file in _files(bench):
            archive.write(file, file.relative_to(bench.folder / "out").as_posix())
        if left_out:
            lines = "".join(f"{path}: {reason}\n" for path, reason in left_out)
            archive.writestr(LEFT_OUT_FILE, lines)
    headers = {"Content-Disposition": 'attachment; filename="nightglass-report.zip"'}
    return Response(packed.getvalue(), media_type="application/zip", headers=headers)


def _left_out(bench: BenchFile, session: Session) -> list[tuple[str, str]]:
    """Frames that the person left out, each with the reason that was given."""
    return [
        (said.path, (said.reason or "").removeprefix(LEFT_OUT))
        for said in said_of(bench, session)
        if (said.reason or "").startswith(LEFT_OUT)
    ]


def _files(bench: BenchFile) -> list[Path]:
    """Files in out/ of the kinds that may be taken away; links are passed over."""
    out = bench.folder / "out"
    found = sorted(out.rglob("*")) if out.is_dir() else []
    return [f for f in found if f.suffix.lower() in TYPES and f.is_file() and not f.is_symlink()]
