"""Long work beside the page: one piece for each bench at a time, with progress and a stop."""

from __future__ import annotations

import threading
from collections.abc import Callable
from copy import copy
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

from nightglass.bench.errors import BenchError
from nightglass.frame.errors import FrameError, in_one_line
from nightglass.show.columns import Part

State = Literal["running", "stopping", "stopped", "done", "failed"]
Tell = Callable[[int, int, str], None]
"""Told (done, total, what): it raises StoppedError where the person wants to stop."""
Work = Callable[[Tell], "Told"]
KNOWN_FAULTS = (BenchError, FrameError, OSError, ValueError)


class StoppedError(Exception):
    """The person asked to stop; what is on record stays."""


class BusyError(ValueError):
    """Another piece of work runs for this bench."""


@dataclass(frozen=True)
class Told:
    """What came of a piece of work: words and tables to read, files to look at."""

    parts: tuple[Part, ...] = ()
    files: tuple[Path, ...] = ()


@dataclass
class Job:
    """One piece of long work."""

    kind: str
    title: str
    state: State = "running"
    done: int = 0
    total: int = 0
    what: str = ""
    told: Told = field(default_factory=Told)
    fault: str = ""
    typed: dict[str, str] = field(default_factory=dict)
    """What was asked, to be shown again in the form."""
    thread: threading.Thread | None = None

    @property
    def runs(self) -> bool:
        """Whether it still works."""
        return self.state in ("running", "stopping")


class Jobs:
    """The work of all benches; by the folder, the last piece of each kind."""

    def __init__(self) -> None:
        self._jobs: dict[tuple[Path, str], Job] = {}
        self._lock = threading.Lock()

    def of(self, folder: Path, kind: str) -> Job | None:
        """Return the last piece of work of a kind as it stands now, or None.

        A copy: what is read after it, such as the answer, is at least as new. Work that ended
        while a page was made would else be shown as ended, without what it ended with.
        """
        job = self._jobs.get((folder, kind))
        return None if job is None else copy(job)

    def running(self, folder: Path) -> Job | None:
        """Return the work that runs for a bench, or None."""
        jobs = [job for (of, _), job in self._jobs.items() if of == folder and job.runs]
        return jobs[0] if jobs else None

    def start(self, folder: Path, kind: str, title: str, work: Work) -> Job:
        """Begin a piece of work; the same one that runs already is returned.

        Raises BusyError while other work runs for this bench.
        """
        with self._lock:
            running = self.running(folder)
            if running is not None:
                if running.kind == kind:
                    return running
                raise BusyError(
                    f"{running.title} is still running for this bench; wait for it, or stop it"
                )
            job = Job(kind, title)
            self._jobs[folder, kind] = job
            job.thread = threading.Thread(
                target=_run, args=(job, work), name=f"{kind} {folder.name}", daemon=True
            )
            job.thread.start()
            return job

    def stop(self, folder: Path, kind: str) -> None:
        """Ask a piece of work to stop; it does so after the file in hand."""
        job = self._jobs.get((folder, kind))
        if job is not None and job.state == "running":
            job.state = "stopping"

    def stop_all(self, wait_s: float = 10.0) -> None:
        """Ask all work to stop and wait for it: the page ends."""
        running = [job for job in self._jobs.values() if job.runs]
        for job in running:
            job.state = "stopping"
        for job in running:
            if job.thread is not None:
                job.thread.join(wait_s)


def _run(job: Job, work: Work) -> None:
    def tell(done: int, total: int, what: str) -> None:
        job.done, job.total, job.what = done, total, what
        if job.state == "stopping":
            raise StoppedError

    try:
        job.told = work(tell)
    except StoppedError:
        job.state = "stopped"
    except KNOWN_FAULTS as error:
        job.fault, job.state = in_one_line(error), "failed"
    except BaseException as error:
        job.fault = f"an error of the program itself ({type(error).__name__}); please report it"
        job.state = "failed"
        raise
    else:
        job.state = "done"
