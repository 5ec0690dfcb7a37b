"""Many frames at once: threads share the cores, results come in the order of the frames.

The loops over pixels let go of the interpreter lock, so that threads are enough, and nothing has
to be copied between processes.
"""

from __future__ import annotations

import os
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from contextlib import AbstractContextManager
from multiprocessing.pool import AsyncResult, ThreadPool
from typing import TypeVar

from threadpoolctl import threadpool_limits

Item = TypeVar("Item")
Result = TypeVar("Result")


def cores() -> int:
    """Return how many cores this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return max(len(os.sched_getaffinity(0)), 1)
    return max(os.cpu_count() or 1, 1)


def small_matrices() -> AbstractContextManager[object]:
    """Return a context in which matrices have no threads of their own.

    Small ones gain nothing from them, and they wait by spinning: on two cores ten frames would
    take as long as on one.
    """
    context: AbstractContextManager[object] = threadpool_limits(limits=1, user_api="blas")
    return context


def in_order(
    job: Callable[[Item], Result], items: Sequence[Item], workers: int | None = None
) -> Iterator[Result]:
    """Yield job(item) for each item in order, worked by threads (one per core by default).

    Never more than one item beyond the workers is begun ahead: a frame is large. When the caller
    stops early (Ctrl-C too) nothing new is begun. Raises what a job raises, and ValueError for
    workers under 1.
    """
    count = cores() if workers is None else workers
    if count < 1:
        raise ValueError(f"workers is {count}; it takes at least one")
    # Its threads are daemons: a frame that is half done does not hold up the end of the program.
    pool = ThreadPool(min(count, max(len(items), 1)))
    waiting: deque[AsyncResult[Result]] = deque()
    try:
        with small_matrices():
            for item in items:
                waiting.append(pool.apply_async(job, (item,)))
                if len(waiting) > count:
                    yield waiting.popleft().get()
            while waiting:
                yield waiting.popleft().get()
    finally:
        pool.terminate()
