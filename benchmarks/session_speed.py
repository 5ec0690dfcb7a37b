"""How long a session at the bench waits: the plan for 12 lenses, the word on a 24 Mpx frame.

Run: python benchmarks/session_speed.py
Promised on an idle machine: the plan with all its files under 1 s after start-up; the word within
2 s after a file is whole, compressed or not. Prints wall and processor seconds (processor time,
workers included, is what a busy machine leaves comparable) and the load of the machine.
"""

from __future__ import annotations

import os
import resource
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import numpy as np

from nightglass.frame.record import Metadata
from nightglass.gear.bag import parse_bench
from nightglass.scene.dng import write_dng
from nightglass.shoot.asked import Asked
from nightglass.shoot.plan import plan_bench
from nightglass.shoot.watcher import Said, WatchOptions, watch_folder
from nightglass.show.shoot.files import write_plan
from nightglass.show.shoot.text import plan_lines

PLAN_LIMIT_S, WORD_LIMIT_S = 1.0, 2.0
LENSES, FRAMES_EACH = 12, 4
WIDTH_PX, HEIGHT_PX = 6000, 4000
BENCH = f"""[body]
name = "Loan body"
pitch_um = 3.9
width_px = {WIDTH_PX}
height_px = {HEIGHT_PX}
[[lens]]
name = "Dipper 14-28 mm"
focal_mm = [14, 28]
f_number = 2.8
[[place]]
name = "centre"
[plan]
repeats = 8
"""


def main() -> None:
    """Print both promises; the exit code is 1 if one is missed."""
    load = os.getloadavg()[0]
    print(f"load {load:.1f} on {os.cpu_count()} cores")
    missed = plan_time() > PLAN_LIMIT_S
    with tempfile.TemporaryDirectory() as folder:
        missed |= word_time(Path(folder)) > WORD_LIMIT_S
    sys.exit(1 if missed else 0)


def plan_time() -> float:
    """Return the wall seconds of the plan for 12 zooms, its files included."""
    file = parse_bench(BENCH)
    lenses = tuple(replace(file.lenses[0], name=f"Dipper {k}") for k in range(LENSES))
    bench, best = replace(file, lenses=lenses, places=()), (9.0, 9.0)
    with tempfile.TemporaryDirectory() as folder:
        for _ in range(3):
            wall, used = time.perf_counter(), time.process_time()
            plan = plan_bench(bench, Asked(hours=20))
            plan_lines(plan, None)
            list(write_plan(plan, "club", Path(folder)))
            best = min(best, (time.perf_counter() - wall, time.process_time() - used))
    print(
        f"plan, {LENSES} zooms, {len(plan.lines)} lines, all files: {best[0]:.2f} s "
        f"({best[1]:.2f} s of processor), limit {PLAN_LIMIT_S:g} s of wall"
    )
    return best[0]


def word_time(folder: Path) -> float:
    """Return the longest wall seconds from a whole file to its word."""
    (folder / "frames").mkdir()
    (folder / "bench.toml").write_text(BENCH, encoding="utf-8")
    kinds = ["none"] * FRAMES_EACH + ["lossless jpeg"] * FRAMES_EACH
    waiting = [_frame(folder / f"{k}.dng", k, kind) for k, kind in enumerate(kinds)]
    lands = _landing(waiting, folder / "frames")
    began, said = _used(), []
    for event in watch_folder(folder, WatchOptions(goes_on=lambda: next(lands, False))):
        if isinstance(event, Said):
            said.append(event.seconds)
            time.sleep(0.2)
    for kind in dict.fromkeys(kinds):
        seconds = [s for s, k in zip(said, kinds, strict=True) if k == kind]
        print(f"word on 24 Mpx, compression {kind}: {min(seconds):.2f} to {max(seconds):.2f} s")
    each = (_used() - began) / len(said)
    print(f"processor: {each:.2f} s a frame, start-up included; limit {WORD_LIMIT_S:g} s of wall")
    return max(said)


def _landing(waiting: list[Path], frames: Path) -> Iterator[bool]:
    """Let one file land after the other, each when the one before has been said."""
    # Until the worker has loaded its libraries.
    ready = time.monotonic() + 6
    while time.monotonic() < ready:
        yield True
    for file in waiting:
        file.rename(frames / file.name)
        until = time.monotonic() + 6
        while time.monotonic() < until:
            yield True


def _frame(path: Path, number: int, compression: str) -> Path:
    rng = np.random.default_rng(number)
    counts = rng.normal(256, 4, (HEIGHT_PX, WIDTH_PX))
    x, y = 3000 + 5.3 * number, 2000 - 3.1 * number
    rows, columns = np.mgrid[1900:2100, 2900:3100]
    counts[1900:2100, 2900:3100] += 2000 * np.exp(-((columns - x) ** 2 + (rows - y) ** 2) / 12)
    write_dng(
        path,
        np.clip(np.round(counts), 0, 4095).astype(np.uint16),
        white_level=4095,
        pattern=np.array([[0, 1], [1, 2]], dtype=np.uint8),
        black=256,
        metadata=Metadata(
            body="Loan body", lens="Dipper 14-28 mm", focal_mm=14.0, f_number=2.8, iso=100,
            exposure_marked_s=0.25, exposure_true_s=0.25,
            taken_at=datetime(2027, 1, 1, 20, 0, number),
        ),
        compression=compression,  # type: ignore[arg-type]
        verify=False,
    )  # fmt: skip
    return path


def _used() -> float:
    spent = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(part.ru_utime + part.ru_stime for part in spent)


if __name__ == "__main__":
    main()
