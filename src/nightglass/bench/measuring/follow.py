"""Measuring files as they land below frames/: each as soon as it is whole.

Nobody tells when a copy ends. A file counts as whole when it has kept size and time for a moment;
if it changes later it is measured again, and the first result is replaced.
"""

from __future__ import annotations

import time
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from nightglass.bench.errors import BenchError
from nightglass.bench.files import FRAMES_FOLDER, Found, FoundFile, find_files
from nightglass.bench.measuring.jobs import MEASURER, OPENER
from nightglass.bench.measuring.measure import keep_outcome, keep_plan
from nightglass.bench.measuring.todo import plan_run
from nightglass.bench.measuring.workers import TIME_LIMIT_S, Workers
from nightglass.bench.store.store import Store
from nightglass.gear.benchfile import BenchFile

SETTLE_S = 0.3
"""How long a file keeps its size before it counts as whole. Cards and cables write without longer
pauses; a file cut off by one is mended when it goes on."""
POLL_S = 0.05
"""How often the folder is looked at. Looking works everywhere: network drives and cards in readers
send no events. A folder of 2,000 files takes 15 ms."""
SLOW_POLL_SHARE = 5.0
"""The pause between two looks is at least so many times the look itself: a slow drive is left
time for its writing."""


@dataclass(frozen=True)
class Landed:
    """A file that was measured, refused, or found to be a copy of another."""

    path: str
    seconds: float
    """From when it was whole to when its result was on record."""


class Follower:
    """Looks at frames/ and measures what is new; a context manager with one warm worker.

    Many files that lie there unmeasured are the work of `measure_folder`, with all cores.
    """

    def __init__(
        self,
        store: Store,
        bench: BenchFile,
        *,
        measurer: str = MEASURER,
        opener: str = OPENER,
        settle_s: float = SETTLE_S,
    ) -> None:
        self._store = store
        self.bench = bench
        """May be replaced while it follows: what bench.toml says now."""
        self._folder = bench.folder / FRAMES_FOLDER
        if not self._folder.is_dir():
            raise BenchError(f"{self._folder}: no such folder; make it, or name another bench")
        self._settle_s = settle_s
        self._pool = Workers(1, measurer=measurer, opener=opener, time_limit_s=TIME_LIMIT_S)
        self._look_s = 0.0
        self._seen: dict[str, tuple[int, int]] = {}
        self._waiting: dict[str, tuple[tuple[int, int], float]] = {}
        """State of a growing file, and since when it has it."""

    def __enter__(self) -> Follower:
        # What is not on record as it lies there is new, however long it has been there: nothing
        # falls between a run of measure_folder and the first look.
        self._seen = {f.path: (f.size_bytes, f.modified_ns) for f in self._store.frames()}
        self._pool.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._pool.__exit__()

    def landed(self) -> Iterator[Landed]:
        """Look once; measure every file that is whole now and yield it. Raises StoreError."""
        began = time.monotonic()
        found = find_files(self._folder)
        now = time.monotonic()
        self._look_s = now - began
        whole = [file for file in found.files if self._is_whole(file, now)]
        here = {file.path for file in found.files}
        self._waiting = {path: since for path, since in self._waiting.items() if path in here}
        for file in whole:
            yield from self._measured(file, found.files)

    def pause_s(self) -> float:
        """Return how long to wait before the next look [s]."""
        return max(POLL_S, SLOW_POLL_SHARE * self._look_s)

    def growing(self) -> tuple[str, ...]:
        """Return the files that are still being written."""
        return tuple(self._waiting)

    def _is_whole(self, file: FoundFile, now: float) -> bool:
        state = _state(file)
        if self._seen.get(file.path) == state:
            self._waiting.pop(file.path, None)
            return False
        before = self._waiting.get(file.path)
        if before is None or before[0] != state:
            self._waiting[file.path] = state, now
            return False
        return file.size_bytes > 0 and now - before[1] >= self._settle_s

    def _measured(self, file: FoundFile, all_files: tuple[FoundFile, ...]) -> Iterator[Landed]:
        began = self._waiting.pop(file.path)[1]
        self._seen[file.path] = _state(file)
        on_record = {frame.path: frame for frame in self._store.frames()}
        # Others that are being written must not look as if they were gone or copies.
        settled = tuple(f for f in all_files if f.path not in self._waiting)
        growing = set(self._waiting)
        known = {path: frame for path, frame in on_record.items() if path not in growing}
        plan = plan_run(self._folder, Found(_these(settled, known, file), ()), known, self.bench)
        keep_plan(self._store, plan, known)
        jobs = [job for job in plan.jobs if job.path == file.path]
        for outcome in self._pool.outcomes(jobs):
            if outcome.changed:
                del self._seen[file.path]
                return
            keep_outcome(self._store, outcome, plan)
        yield Landed(file.path, time.monotonic() - began)


def _these(
    settled: tuple[FoundFile, ...], known: Mapping[str, object], new: FoundFile
) -> tuple[FoundFile, ...]:
    """What a run is to look at: what is on record, and the new file alone."""
    return tuple(file for file in settled if file.path in known or file.path == new.path)


def _state(file: FoundFile) -> tuple[int, int]:
    return file.size_bytes, file.modified_ns
