"""The loop of the watch: frames as they land, each said with what comes next."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from nightglass.bench.measuring.follow import Follower, Landed
from nightglass.bench.measuring.jobs import MEASURER, OPENER
from nightglass.bench.measuring.measure import measure_folder
from nightglass.bench.store.store import Store, open_store
from nightglass.bench.waiting import waiting_frames
from nightglass.gear.bag import BenchFileError, read_bench_file
from nightglass.gear.benchfile import BenchFile
from nightglass.shoot.plan import known_of, plan_bench
from nightglass.shoot.plan_on_record import last_plan
from nightglass.shoot.records import BenchPlan
from nightglass.shoot.watching import FrameSaid, Session, frame_said, plan_is_old, session


@dataclass(frozen=True)
class Began:
    """What a watch starts from."""

    plan: BenchPlan
    planned_now: bool
    """No plan was on record: it was made from bench.toml just now."""
    plan_is_old: bool
    """bench.toml says something else than when the plan was made."""
    measured_first: int
    """Frames that lay there and were measured before."""
    now: Session


@dataclass(frozen=True)
class Said:
    """A frame that landed, and where the session stands after it."""

    frame: FrameSaid
    now: Session
    seconds: float
    """From when the file was whole."""


@dataclass(frozen=True)
class FaultyBench:
    """bench.toml was changed and can't be used: what it said before counts on."""

    problems: tuple[str, ...]


@dataclass
class _Bench:
    """bench.toml, read again when it changes: the person mends it while the watch runs."""

    folder: Path
    file: BenchFile
    modified_ns: int = 0
    fault: FaultyBench | None = None

    def look(self) -> bool:
        """Read it if it has changed; return whether there is news."""
        path = self.file.path or self.folder
        try:
            modified_ns = path.stat().st_mtime_ns
        except OSError:
            return False
        if modified_ns == self.modified_ns:
            return False
        first, self.modified_ns = self.modified_ns == 0, modified_ns
        if first:
            return False
        try:
            self.file, self.fault = read_bench_file(self.folder), None
        except BenchFileError as error:
            self.fault = FaultyBench(error.problems)
        return True


@dataclass(frozen=True)
class WatchOptions:
    """How a watch runs."""

    measurer: str = MEASURER
    opener: str = OPENER
    goes_on: Callable[[], bool] = lambda: True
    """Asked after every look at the folder; the watch ends when it says no."""


def watch_folder(
    folder: Path, options: WatchOptions | None = None
) -> Iterator[Began | Said | FaultyBench]:
    """Yield where the session stands, then every frame as it lands; it ends when it is stopped.

    Frames that lay there unmeasured are measured before. Every result is on record as it comes, as
    by `measure_folder`. Raises BenchFileError, BenchError, StoreError, or ValueError where no plan
    can be made.
    """
    chosen = options or WatchOptions()
    bench = _Bench(folder, read_bench_file(folder))
    bench.look()
    first = waiting_frames(bench.file).not_on_record
    if first:
        measure_folder(folder, measurer=chosen.measurer, opener=chosen.opener)
    store = open_store(bench.file)
    try:
        plan = last_plan(store)
        planned_now = plan is None
        plan = plan or plan_bench(bench.file, known=known_of(store, bench.file))
        with Follower(
            store, bench.file, measurer=chosen.measurer, opener=chosen.opener
        ) as follower:
            now = session(store, bench.file, plan)
            yield Began(plan, planned_now, plan_is_old(plan, bench.file), first, now)
            yield from _looks(follower, store, bench, plan, chosen)
    finally:
        store.close()


def _looks(
    follower: Follower, store: Store, bench: _Bench, plan: BenchPlan, chosen: WatchOptions
) -> Iterator[Said | FaultyBench]:
    while True:
        if bench.look() and bench.fault is not None:
            yield bench.fault
        follower.bench = bench.file
        for landed in follower.landed():
            yield _said(landed, store, bench.file, plan)
        if not chosen.goes_on():
            return
        time.sleep(follower.pause_s())


def _said(landed: Landed, store: Store, bench: BenchFile, plan: BenchPlan) -> Said:
    began = time.monotonic()
    now = session(store, bench, plan)
    frame = frame_said(landed.path, now)
    return Said(frame, now, landed.seconds + time.monotonic() - began)
