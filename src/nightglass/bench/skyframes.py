"""Frames of the real sky beside the bench's own: which lens setting each belongs to."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from nightglass.bench.assign import (
    SKY_PREFIX,
    Belongs,
    NotUsed,
    belongs_to,
    unmatched_sky_rules,
)
from nightglass.bench.errors import BenchError
from nightglass.bench.files import find_files
from nightglass.bench.store.rows import FrameOnRecord
from nightglass.frame.record import Frame
from nightglass.gear.benchfile import BenchFile

SKY_FOLDER = "sky"


@dataclass(frozen=True)
class SkyFile:
    """A file below sky/ of a bench folder."""

    name: str
    """From the bench folder, "sky/..." with forward slashes: what [[frames]] tables match."""
    path: Path
    cause: str | None = None
    """Why it can't be read, of a folder below sky/ too; None for a file that can be tried."""


def sky_files(bench: BenchFile) -> tuple[SkyFile, ...]:
    """Return the files below sky/ of a bench in the order of their names, then what can't be read.

    Raises BenchError where nothing can be read.
    """
    folder = bench.folder / SKY_FOLDER
    if not folder.is_dir():
        raise BenchError(
            f"{folder}: no such folder; make it and copy raw frames of the night sky there, taken "
            "with lens settings of this bench"
        )
    found = find_files(folder)
    if found.unreadable and not found.files:
        name, cause = found.unreadable[0]
        raise BenchError(f"{folder / name}: can't be read ({cause}); check its permissions")
    if not found.files and not found.passed_over:
        raise BenchError(
            f"{folder}: empty; copy raw frames of the night sky there, taken with lens settings "
            "of this bench"
        )
    files = [SkyFile(f"{SKY_PREFIX}{file.path}", folder / file.path) for file in found.files]
    lost = [SkyFile(f"{SKY_PREFIX}{name}", folder / name, why) for name, why in found.unreadable]
    odd = [SkyFile(f"{SKY_PREFIX}{o.path}", o.on_disk, o.why) for o in found.passed_over]
    return (*files, *lost, *odd)


def sky_names(folder: Path) -> tuple[str, ...]:
    """Return the names of the files below sky/ of a bench folder, "sky/..."; none without one."""
    found = find_files(folder / SKY_FOLDER)
    return tuple(f"{SKY_PREFIX}{file.path}" for file in found.files)


def unmatched_sky_tables(bench: BenchFile, files: Sequence[SkyFile]) -> tuple[str, ...]:
    """Return one line for each [[frames]] table that begins with sky/ and fits none of them."""
    return unmatched_sky_rules(bench, [file.name for file in files])


def sky_belongs(name: str, frame: Frame, bench: BenchFile) -> Belongs | NotUsed:
    """Return what a frame of the sky belongs to: as a frame of the bench does.

    name: as SkyFile has it. The file's metadata count, and [[frames]] tables whose pattern fits
    the name win.
    """
    return belongs_to(sky_record(name, frame), bench)


def sky_name(file: Path) -> str:
    """Return the name of a frame of the sky as [[frames]] tables match it: "sky/..." from the last
    folder of that name on."""
    parts = file.parts
    at = max((k for k, part in enumerate(parts[:-1]) if part == SKY_FOLDER), default=len(parts) - 2)
    return SKY_PREFIX + "/".join(parts[at + 1 :])


def sky_record(name: str, frame: Frame) -> FrameOnRecord:
    """Return a frame of the sky as the store would know it: name, content and metadata."""
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


def bench_of(files: Sequence[Path]) -> Path | None:
    """Return the bench folder below whose sky/ all of the files lie; None if there is no one."""
    above = {
        parent.parent
        for file in files
        for parent in file.resolve().parents
        if parent.name == SKY_FOLDER and (parent.parent / "bench.toml").is_file()
    }
    folder = next(iter(above), None)
    inside = folder is not None and all((folder / SKY_FOLDER) in f.resolve().parents for f in files)
    return folder if len(above) == 1 and inside else None
