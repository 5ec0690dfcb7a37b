"""What the page keeps between two looks at a bench, for as long as nothing behind it changes."""

from __future__ import annotations

import threading
import time
from collections import OrderedDict
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

from nightglass.bench.store.store import STORE_NAME
from nightglass.gear.bag import BENCH_FILE_NAME
from nightglass.gear.benchfile import BenchFile
from nightglass.gear.sensorfile import SENSOR_FILE_NAME

Thing = TypeVar("Thing")
MOST_KEPT = 64
REST_TIMES = 10.0
"""How long `lately` gives what it has, in times of what the making took."""
BEHIND_RANKING = (STORE_NAME, f"{STORE_NAME}-journal", BENCH_FILE_NAME, SENSOR_FILE_NAME)


class Shelf:
    """Things worked out from a bench, found again while the files behind them are the same."""

    def __init__(self) -> None:
        self._things: OrderedDict[tuple[Any, ...], Any] = OrderedDict()
        self._lock = threading.Lock()
        self._making: dict[tuple[Any, ...], threading.Lock] = {}
        self._lately: dict[tuple[str, Path], tuple[Any, float]] = {}

    def get(self, bench: BenchFile, name: str, make: Callable[[], Thing], *asked: Any) -> Thing:
        """Return what `make` gives for a bench; asked: what else it depends on.

        Two that ask for the same at once wait for one making. A bench whose store is elsewhere is
        worked out each time: its changes leave no trace here.
        """
        if bench.bench.store is not None:
            return make()
        key = (name, bench.folder, _state(bench.folder), *asked)
        with self._lock:
            if key in self._things:
                self._things.move_to_end(key)
                return self._things[key]
            making = self._making.setdefault(key, threading.Lock())
        with making:
            with self._lock:
                if key in self._things:
                    return self._things[key]
            made = make()
            with self._lock:
                self._things[key] = made
                self._making.pop(key, None)
                while len(self._things) > MOST_KEPT:
                    self._things.popitem(last=False)
        return made

    def lately(self, bench: BenchFile, name: str, make: Callable[[], Thing]) -> Thing:
        """Return what `make` gave lately, though files may have changed since.

        For what is looked at every second while thousands of frames are measured: making it takes
        a tenth of the time at most.
        """
        key = (name, bench.folder)
        with self._lock:
            thing, until = self._lately.get(key, (None, 0.0))
        began = time.monotonic()
        if began < until:
            return thing
        made = self.get(bench, name, make)
        ended = time.monotonic()
        with self._lock:
            self._lately[key] = made, ended + REST_TIMES * (ended - began)
        return made


def _state(folder: Path) -> tuple[Any, ...]:
    return tuple(_stamp(folder / name) for name in BEHIND_RANKING)


def _stamp(file: Path) -> tuple[int, int, int]:
    try:
        status = file.stat()
    except OSError:
        return 0, 0, 0
    return status.st_mtime_ns, status.st_size, status.st_ino
