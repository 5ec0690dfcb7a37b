"""Reading one dropped file outside the page: a process with limits of time and memory."""

from __future__ import annotations

import multiprocessing
from concurrent.futures import TimeoutError
from pathlib import Path

from pebble import ProcessPool

from nightglass.bench.starter import RecordedGear, recorded_gear
from nightglass.frame.errors import FrameError
from nightglass.frame.memory import ONE_FRAME_BYTES, limit_memory, needs_more

TIME_LIMIT_S = 60.0
"""The start of the libraries included."""


def gear_in(file: Path, name: str) -> RecordedGear:
    """Return what a file tells of body and lens; name: what the person calls it.

    Raises FrameError for a file that can't be read, or takes too much time or memory.
    """
    # Never fork: threads of the page may hold locks.
    context = multiprocessing.get_context("spawn")
    with ProcessPool(
        max_workers=1, context=context, initializer=limit_memory, initargs=[ONE_FRAME_BYTES]
    ) as pool:
        future = pool.schedule(_gear, args=[file], timeout=TIME_LIMIT_S)
        fault = future.exception()
    if fault is None:
        found: RecordedGear = future.result()
        return found
    remedy = "drop another frame, or fill in the form by hand"
    if isinstance(fault, FrameError):
        raise FrameError(name, fault.cause, remedy)
    cause = f"took longer than {TIME_LIMIT_S:.0f} s" if isinstance(fault, TimeoutError) else (
        "the program that read it broke down"
    )  # fmt: skip
    raise FrameError(name, cause, remedy)


def _gear(file: Path) -> RecordedGear:
    try:
        return recorded_gear(file)
    except MemoryError:
        raise needs_more(str(file)) from None
