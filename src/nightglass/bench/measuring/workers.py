"""Worker processes, one file each at a time: one that dies or hangs costs only its file."""

from __future__ import annotations

import multiprocessing
import os
import signal
import sys
import time
import traceback
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from multiprocessing.connection import Connection, wait
from multiprocessing.process import BaseProcess

from nightglass.bench.measuring.jobs import MEASURER, OPENER, Job, Outcome, load, work

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


@dataclass
class _Worker:
    process: BaseProcess
    pipe: Connection
    job: Job | None = None
    began: float = 0.0


class Workers:
    """A few processes that measure files; a context manager that leaves none of them behind."""

    def __init__(
        self,
        count: int,
        *,
        measurer: str = MEASURER,
        opener: str = OPENER,
        time_limit_s: float = TIME_LIMIT_S,
    ) -> None:
        if count < 1:
            raise ValueError(f"workers is {count}; it must be 1 or more")
        self._measurer, self._opener = measurer, opener
        self._time_limit_s = time_limit_s
        self._count = count
        self._all: list[_Worker] = []
        # Never fork: a decoder used before in this process can hang in its forked copy.
        self._context = multiprocessing.get_context("spawn")

    def __enter__(self) -> Workers:
        return self

    def __exit__(self, *_: object) -> None:
        for worker in self._all:
            worker.pipe.close()
            worker.process.kill()
        for worker in self._all:
            worker.process.join()
        self._all = []

    def start(self) -> None:
        """Start the processes before there is work: loading libraries takes them seconds."""
        while len(self._all) < self._count:
            self._start()

    def outcomes(self, jobs: Iterable[Job]) -> Iterator[Outcome]:
        """Yield the outcome of every job, as they come."""
        todo = iter(jobs)
        while True:
            self._hand_out(todo)
            busy = [worker for worker in self._all if worker.job is not None]
            if not busy:
                return
            pipes = {worker.pipe: worker for worker in busy}
            for ready in wait(list(pipes), timeout=0.5):
                yield self._answer(pipes[ready])  # type: ignore[index]
            for worker in busy:
                if worker.job and time.monotonic() - worker.began > self._time_limit_s:
                    yield self._lost(worker, f"took longer than {self._time_limit_s:.0f} s")

    def _hand_out(self, todo: Iterator[Job]) -> None:
        idle = [worker for worker in self._all if worker.job is None]
        while idle or len(self._all) < self._count:
            job = next(todo, None)
            if job is None:
                return
            worker = idle.pop() if idle else self._start()
            worker.job, worker.began = job, time.monotonic()
            worker.pipe.send(job)

    def _answer(self, worker: _Worker) -> Outcome:
        try:
            outcome: Outcome = worker.pipe.recv()
        except (EOFError, OSError):
            return self._lost(worker, "the program that read it broke down")
        worker.job = None
        return outcome

    def _lost(self, worker: _Worker, cause: str) -> Outcome:
        """End a worker that hangs or has died, and give its file a reason."""
        job = worker.job
        worker.pipe.close()
        worker.process.kill()
        worker.process.join()
        self._all.remove(worker)
        if job is None:
            raise RuntimeError("a worker without a job can't lose one")
        reason = f"{cause}; check that the file opens elsewhere, then run measure again"
        return Outcome(job, refused=reason, try_again=True)

    def _start(self) -> _Worker:
        here, there = self._context.Pipe()
        process = self._context.Process(
            target=_serve, args=(there, self._opener, self._measurer), daemon=True
        )
        with _one_thread_each():
            process.start()
        there.close()
        worker = _Worker(process, here)
        self._all.append(worker)
        return worker


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


def _serve(pipe: Connection, opener: str, measurer: str) -> None:
    """Loop of a worker; it ends when the pipe does, so none outlives a killed parent."""
    # Ctrl-C reaches the whole terminal group; the parent decides.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    opened, measured = load(opener), load(measurer)
    warm_up = getattr(sys.modules[measured.__module__], "warm_up", None)
    if warm_up is not None:
        warm_up()
    while True:
        try:
            job: Job = pipe.recv()
        except (EOFError, OSError):
            return
        outcome = _guarded(job, opened, measured)
        try:
            pipe.send(outcome)
        except OSError:
            return


def _guarded(job: Job, opened, measured) -> Outcome:  # type: ignore[no-untyped-def]
    """Work; whatever a damaged file sets off in a library costs this file only."""
    try:
        return work(job, opened, measured)
    except MemoryError:
        reason = "not enough memory for it; close other programs, or use fewer workers"
        return Outcome(job, refused=reason, try_again=True)
    except FILE_FAULTS as error:
        place = traceback.extract_tb(sys.exc_info()[2])[-1]
        where = f"{os.path.basename(place.filename)}:{place.lineno}"
        reason = f"could not be measured ({type(error).__name__}: {error}, at {where})"
        return Outcome(job, refused=f"{reason}; please report it", try_again=True)
