"""Worker processes, one file each at a time: one that dies or hangs costs only its file.

Each has a limit of time for a file, and of memory (Linux): what a file holds is not known before.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import sys
import traceback
from collections.abc import Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, TimeoutError, wait
from contextlib import contextmanager
from itertools import islice
from typing import Any

from pebble import ProcessFuture, ProcessPool

from nightglass.bench.measuring.jobs import MEASURER, OPENER, Job, Outcome, load, work
from nightglass.frame.memory import ONE_FRAME_BYTES, limit_memory, needs_more

TIME_LIMIT_S = 180.0
"""For one file, the start of the libraries included."""
ONE_THREAD = dict.fromkeys(
    (
        "OMP_NUM_THREADS",
        "OPENBLAS_NUM_THREADS",
        "MKL_NUM_THREADS",
        "NUMBA_NUM_THREADS",
        "VECLIB_MAXIMUM_THREADS",
        "NUMEXPR_NUM_THREADS",
    ),
    "1",
)
"""One library thread for each worker: the workers share the cores, not each core the workers."""


FILE_FAULTS = (ArithmeticError, LookupError, OSError, RuntimeError, ValueError)
"""What a damaged file can set off in a library; anything else ends the worker, not the run."""


_BROKE = "the program that read it broke down"


class Workers:
    """A few processes that measure files; a context manager that leaves none of them behind."""

    def __init__(
        self,
        count: int,
        *,
        measurer: str = MEASURER,
        opener: str = OPENER,
        time_limit_s: float = TIME_LIMIT_S,
        memory_bytes: int = ONE_FRAME_BYTES,
    ) -> None:
        if count < 1:
            raise ValueError(f"workers is {count}; it must be 1 or more")
        self._time_limit_s, self._count = time_limit_s, count
        with _one_thread_each():
            # Never fork: a decoder used before in this process can hang in its forked copy.
            self._pool = ProcessPool(
                max_workers=count,
                context=multiprocessing.get_context("spawn"),
                initializer=_begin,
                initargs=(opener, measurer, memory_bytes),
            )

    def __enter__(self) -> Workers:
        return self

    def __exit__(self, *_: object) -> None:
        self._pool.stop()  # type: ignore[no-untyped-call]
        self._pool.join()

    def start(self) -> None:
        """Start the processes before there is work: loading libraries takes them seconds."""
        with _one_thread_each():
            # The pool starts its processes with the first thing that it is given.
            ready = [self._pool.schedule(_ready) for _ in range(self._count)]
            wait(ready)

    def outcomes(self, jobs: Iterable[Job]) -> Iterator[Outcome]:
        """Yield the outcome of every job, as they come."""
        todo = iter(jobs)
        running: dict[ProcessFuture[Outcome], Job] = {}
        with _one_thread_each():
            while True:
                for job in islice(todo, self._count - len(running)):
                    future = self._pool.schedule(_work, args=[job], timeout=self._time_limit_s)
                    running[future] = job
                if not running:
                    return
                done, _ = wait(running, return_when=FIRST_COMPLETED)
                for job, future in [(job, one) for one, job in running.items() if one in done]:
                    del running[future]
                    yield self._outcome(future, job)

    def _outcome(self, future: ProcessFuture[Outcome], job: Job) -> Outcome:
        fault = future.exception()
        if fault is None:
            return future.result()
        if isinstance(fault, TimeoutError):
            return _lost(job, f"took longer than {self._time_limit_s:.0f} s")
        # Whatever ended the worker (a signal, a fault of a library) has cost this file only.
        return _lost(job, _BROKE)


def _lost(job: Job, cause: str) -> Outcome:
    reason = f"{cause}; check that the file opens elsewhere, then run measure again"
    return Outcome(job, refused=reason, try_again=True)


@contextmanager
def _one_thread_each() -> Iterator[None]:
    """Set the libraries' thread counts for processes started inside, and put them back."""
    before = {name: os.environ.get(name) for name in ONE_THREAD}
    os.environ.update(ONE_THREAD)
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                del os.environ[name]
            else:
                os.environ[name] = value


_LOADED: dict[str, Any] = {}
"""Of one worker process: what opens and what measures its files."""


def _begin(opener: str, measurer: str, memory_bytes: int) -> None:
    limit_memory(memory_bytes)
    # Ctrl-C reaches the whole terminal group; the parent decides.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    _LOADED.update(opener=load(opener), measurer=load(measurer))
    warm_up = getattr(sys.modules[_LOADED["measurer"].__module__], "warm_up", None)
    if warm_up is not None:
        warm_up()


def _ready() -> None:
    """Nothing to do: the process is there."""


def _work(job: Job) -> Outcome:
    return _guarded(job, _LOADED["opener"], _LOADED["measurer"])


def _guarded(job: Job, opened, measured) -> Outcome:  # type: ignore[no-untyped-def]
    """Work; whatever a damaged file sets off in a library costs this file only."""
    try:
        return work(job, opened, measured)
    except MemoryError:
        short = needs_more(job.file)
        return Outcome(job, refused=f"{short.cause}; {short.remedy}", try_again=True)
    except FILE_FAULTS as error:
        place = traceback.extract_tb(sys.exc_info()[2])[-1]
        where = f"{os.path.basename(place.filename)}:{place.lineno}"
        reason = f"could not be measured ({type(error).__name__}: {error}, at {where})"
        return Outcome(job, refused=f"{reason}; please report it", try_again=True)
