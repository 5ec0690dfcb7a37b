"""Files beside the bench's own frames, in folders of their own: of the sky, of an even light."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from nightglass.bench.assign import FLATS_PREFIX, SKY_PREFIX, Belongs, NotUsed, belongs_to
from nightglass.bench.errors import BenchError
from nightglass.bench.files import find_files
from nightglass.bench.store.rows import FrameOnRecord
from nightglass.frame.record import Frame
from nightglass.gear.benchfile import BenchFile


@dataclass(frozen=True)
class FolderBeside:
    """A folder of a bench beside frames/."""

    name: str
    prefix: str
    """How the names of its files begin in [[frames]] tables."""
    what: str
    """What belongs into it."""
    page: str = ""
    """Of the docs, that says how to take such frames."""


SKY = FolderBeside("sky", SKY_PREFIX, "raw frames of the night sky")
FLATS = FolderBeside(
    "flats", FLATS_PREFIX, "raw frames of an evenly lit surface", " (docs/flats.md)"
)


@dataclass(frozen=True)
class FileBeside:
    """A file below a folder beside frames/."""

    name: str
    """From the bench folder, "sky/..." with forward slashes: what [[frames]] tables match."""
    path: Path
    cause: str | None = None
    """Why it can't be read, of a folder below too; None for a file that can be tried."""


def files_beside(bench: BenchFile, beside: FolderBeside) -> tuple[FileBeside, ...]:
    """Return the files below a folder beside frames/ in the order of their names, then what can't
    be read.

    Raises BenchError where nothing can be read.
    """
    folder = bench.folder / beside.name
    to_copy = f"copy {beside.what} there, taken with lens settings of this bench{beside.page}"
    if not folder.is_dir():
        raise BenchError(f"{folder}: no such folder; make it and {to_copy}")
    found = find_files(folder)
    if found.unreadable and not found.files:
        name, cause = found.unreadable[0]
        raise BenchError(f"{folder / name}: can't be read ({cause}); check its permissions")
    if not found.files and not found.passed_over:
        raise BenchError(f"{folder}: empty; {to_copy}")
    start = beside.prefix
    files = [FileBeside(f"{start}{file.path}", folder / file.path) for file in found.files]
    lost = [FileBeside(f"{start}{name}", folder / name, why) for name, why in found.unreadable]
    odd = [FileBeside(f"{start}{o.path}", o.on_disk, o.why) for o in found.passed_over]
    return (*files, *lost, *odd)


def belongs_beside(name: str, frame: Frame, bench: BenchFile) -> Belongs | NotUsed:
    """Return what a frame beside the bench's own belongs to: as one of the bench does.

    name: as FileBeside has it. The file's metadata count, and [[frames]] tables whose pattern fits
    the name win.
    """
    return belongs_to(record_beside(name, frame), bench)


def record_beside(name: str, frame: Frame) -> FrameOnRecord:
    """Return a frame as the store would know it: name, content and metadata."""
    return FrameOnRecord(
        path=name,
        content_hash=frame.content_hash,
        fingerprint="",
        size_bytes=0,
        modified_ns=0,
        state="measured",
        width_px=frame.width_px,
        height_px=frame.height_px,
        crop_width_px=frame.crop_px[3] if frame.crop_px else None,
        crop_height_px=frame.crop_px[2] if frame.crop_px else None,
        metadata=frame.metadata,
    )
