"""How many files of a bench are measured, refused, waiting: counts, quick for thousands of them."""

from __future__ import annotations

from dataclasses import dataclass

from nightglass.bench.files import FRAMES_FOLDER, find_files
from nightglass.bench.store.store import open_store
from nightglass.gear.benchfile import BenchFile


@dataclass(frozen=True)
class Tally:
    """Files below frames/ by what became of them."""

    measured: int
    refused: int
    copies: int
    waiting: int
    """Not on record, or changed since."""
    gone: int
    """On record, but no longer below frames/."""

    @property
    def files(self) -> int:
        """All files below frames/."""
        return self.measured + self.refused + self.copies + self.waiting


def tally(bench: BenchFile) -> Tally:
    """Return the counts of a bench as its folder and its store are now. Raises StoreError."""
    folder = bench.folder / FRAMES_FOLDER
    files = find_files(folder).files if folder.is_dir() else ()
    store = open_store(bench)
    try:
        known = store.states()
    finally:
        store.close()
    counts = {"measured": 0, "refused": 0, "duplicate": 0, "": 0}
    for file in files:
        state, size_bytes = known.pop(file.path, ("", 0))
        counts[state if size_bytes == file.size_bytes else ""] += 1
    return Tally(counts["measured"], counts["refused"], counts["duplicate"], counts[""], len(known))
