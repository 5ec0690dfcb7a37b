"""What lies in a bench's frames folder, but takes no part in its results."""

from __future__ import annotations

from dataclasses import dataclass

from nightglass.bench.assign import NotUsed, belongs_to
from nightglass.bench.files import FRAMES_FOLDER, find_files
from nightglass.bench.store.store import open_store
from nightglass.gear.benchfile import BenchFile


@dataclass(frozen=True)
class Waiting:
    """Files that were never measured, and measured frames that belong to no setting."""

    not_on_record: int
    """Files below frames/ that the store does not know: not measured yet, or copies of others."""
    not_used: tuple[tuple[str, str], ...]
    """(path, reason) of measured frames that bench.toml can't place."""


def waiting_frames(bench: BenchFile) -> Waiting:
    """Return which files of a bench take no part in its results. Raises StoreError."""
    folder = bench.folder / FRAMES_FOLDER
    files = find_files(folder).files if folder.is_dir() else ()
    store = open_store(bench)
    try:
        frames = store.frames()
    finally:
        store.close()
    known = {frame.path for frame in frames}
    unplaced = []
    for frame in frames:
        if frame.state == "measured" and not frame.missing:
            belongs = belongs_to(frame, bench)
            if isinstance(belongs, NotUsed):
                unplaced.append((frame.path, belongs.reason))
    return Waiting(sum(file.path not in known for file in files), tuple(unplaced))
