"""Questions that decode files are answered in a process apart, with limits of time and memory.

A file that breaks a decoder, or eats time or memory, costs its question only; the page goes on.
The process ends with the page.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import sys
import threading
from dataclasses import dataclass
from multiprocessing.connection import Connection
from multiprocessing.context import BaseContext
from multiprocessing.process import BaseProcess
from typing import Any

from nightglass.bench.errors import BenchError
from nightglass.frame.errors import in_one_line
from nightglass.frame.many import cores
from nightglass.frame.memory import ONE_FRAME_BYTES, limit_memory
from nightglass.gear.benchfile import BenchFile
from nightglass.page.asks import Run, Typed
from nightglass.page.jobs import KNOWN_FAULTS, StoppedError, Tell, Told

QUIET_LIMIT_S = 900.0
"""So long may one step of the work take: large frames take minutes on a slow machine."""
LOOK_S = 0.2
STOP_WITHIN_S = 5.0
"""For the file in hand; after that the process is ended. What is on record stays."""
MEMORY_SHARE = 0.75
"""Of what the machine has: the page and the rest of it must live on."""
LOADED_BEFORE = tuple(f"nightglass.page.questions.{name}" for name in ("sky", "camera", "against"))
"""What takes seconds to load, and is loaded once for all questions."""


@dataclass(frozen=True)
class _Ended:
    """How the work ended without an answer."""

    fault: str
    """Empty: it was stopped."""
    is_own: bool = False
    """Whether the program itself is at fault."""


def answered_apart(
    run: Run,
    bench: BenchFile,
    typed: Typed,
    tell: Tell,
    *,
    quiet_s: float = QUIET_LIMIT_S,
    memory_bytes: int | None = None,
) -> Told:
    """Return what `run` answers, worked out in a process of its own.

    run: a function of a module, to be found by its name. memory_bytes: None for question_bytes().
    Raises StoppedError where tell does, BenchError with words for the person
    for all that went wrong.
    """
    limit = question_bytes() if memory_bytes is None else memory_bytes
    here, there = multiprocessing.Pipe()
    process = _start(_context(), (run, bench, dict(typed.texts), limit, there))
    there.close()
    try:
        return _listen(here, tell, quiet_s, limit)
    except StoppedError:
        _ask_to_stop(here, process)
        raise
    finally:
        process.kill()
        process.join()
        here.close()


def question_bytes() -> int:
    """Return how much memory a question may take: it works on several frames at once."""
    try:
        there_is = os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE")
    except (AttributeError, OSError, ValueError):
        return (cores() + 1) * ONE_FRAME_BYTES
    return max(ONE_FRAME_BYTES, int(MEMORY_SHARE * there_is))


def _context() -> BaseContext:
    """A fresh process for each question, never a copy of the page's: its threads hold locks.

    On Linux it is a copy of one that has loaded the libraries and decoded nothing.
    """
    if sys.platform != "linux":
        return multiprocessing.get_context("spawn")
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(list(LOADED_BEFORE))
    return context


def _start(context: BaseContext, args: tuple[Any, ...]) -> BaseProcess:
    process: BaseProcess = context.Process(  # type: ignore[attr-defined]
        target=_work, args=args, name="question", daemon=True
    )
    process.start()
    return process


def _listen(here: Connection, tell: Tell, quiet_s: float, limit: int) -> Told:
    last: tuple[int, int, str] = 0, 0, ""
    quiet = 0.0
    while True:
        # Told again while nothing comes: the person may want to stop meanwhile.
        tell(*last)
        if not here.poll(LOOK_S):
            quiet += LOOK_S
            if quiet > quiet_s:
                raise BenchError(_words(last[2], f"took longer than {quiet_s:.0f} s"))
            continue
        try:
            said = here.recv()
        except (EOFError, OSError):
            raise BenchError(_words(last[2], "the program that read it broke down")) from None
        quiet = 0.0
        if isinstance(said, Told):
            return said
        if isinstance(said, _Ended):
            raise _raised(said, last[2], limit)
        last = said


def _raised(ended: _Ended, what: str, limit: int) -> Exception:
    if ended.is_own:
        return BenchError(f"an error of the program itself ({ended.fault}); please report it")
    if ended.fault == MemoryError.__name__:
        return BenchError(_words(what, f"this needs more memory than {limit / 2**30:.2g} GB"))
    return BenchError(ended.fault) if ended.fault else StoppedError()


def _words(what: str, cause: str) -> str:
    where = f"{what}: " if what else ""
    return (
        f"{where}{cause}; take away or crop the files that are larger than the others, or ask with "
        "fewer files. What was put on record stays"
    )


def _ask_to_stop(here: Connection, process: BaseProcess) -> None:
    try:
        here.send(None)
    except OSError:
        return
    process.join(STOP_WITHIN_S)


def _work(run: Run, bench: BenchFile, texts: dict[str, str], limit: int, pipe: Connection) -> None:
    """Answer, in the process of its own; say how it goes, and how it ended."""
    # Ctrl-C reaches the whole terminal group; the page decides.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    limit_memory(limit)
    stopping = threading.Event()
    threading.Thread(target=_heed, args=(pipe, stopping), daemon=True).start()

    def tell(done: int, total: int, what: str) -> None:
        pipe.send((done, total, what))
        if stopping.is_set():
            raise StoppedError

    try:
        pipe.send(run(bench, Typed(texts), tell))
    except StoppedError:
        pipe.send(_Ended(""))
    except MemoryError:
        pipe.send(_Ended(MemoryError.__name__))
    except KNOWN_FAULTS as error:
        pipe.send(_Ended(in_one_line(error)))
    except BaseException as error:
        pipe.send(_Ended(type(error).__name__, is_own=True))
        raise


def _heed(pipe: Connection, stopping: threading.Event) -> None:
    """Hear that the person wants to stop; end at once when the page is gone."""
    try:
        while True:
            pipe.recv()
            stopping.set()
    except (EOFError, OSError):
        os._exit(1)
