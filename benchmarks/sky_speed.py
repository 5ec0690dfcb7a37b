"""`nightglass sky` on ten frames by one core and by two, beside this machine's own bound.

    python benchmarks/sky_speed.py [frames] [millions of pixels]

One rendered frame (Bayer, 24 mm on 36 x 24 mm, 10 s, land, a satellite), written as DNG and copied:
each copy is opened, its stars found, the camera solved, lens and motion taken apart, the night
measured and all of it worded, as the command does without a store. Each run is a child held to its
cores, which works on one frame before the clock starts. The bound: how much faster two children of
one core each are, with half of the frames each, which share neither lock nor memory. The target is
1.7, or what the bound allows where that is less. A busy machine says nothing: the load is printed.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path

from nightglass.bench.kept import Keeper
from nightglass.frame.many import in_order
from nightglass.frame.record import Metadata
from nightglass.scene.dng import write_dng
from nightglass.scene.sky.starfield import Aberrations, Scene, lens_spots, render
from nightglass.show.sky.frame_report import KIND, FrameReport, Known, frame_report
from nightglass.sky.astrometry.camera import Camera, look_at

TARGET = 1.7
NOTHING_KEPT = Keeper(None, KIND, print)
NOTHING_SAID = Known(None, None, None, None, False)


def make(folder: Path, frames: int, millions: float) -> list[Path]:
    """Write copies of one rendered frame; return their files."""
    rows = round((millions * 1e6 / 1.5) ** 0.5 / 2) * 2
    columns = round(1.5 * rows / 2) * 2
    camera = Camera(columns, rows, columns * 24 / 36, columns / 2 + 9, rows / 2 - 6, -0.02, 0.0)
    terms = Aberrations(defocus_um=0.5, coma_um=1.5)
    spots = lens_spots(camera, 36e3 / columns, 2.0, terms, grid=(3, 5), size_px=31)
    scene = Scene(camera, look_at(300.0, 30.0, 70.0), spots, exposure_s=10.0, land=0.2)
    frame, _ = render(scene)
    first = folder / "0.dng"
    told = Metadata(exposure_marked_s=10.0, focal_mm=24.0, f_number=2.0, iso=1600)
    write_dng(
        first, frame.samples, pattern=frame.pattern, black=512, white_level=16000, metadata=told
    )
    return [first, *(Path(shutil.copy(first, folder / f"{k}.dng")) for k in range(1, frames))]


def report(file: Path) -> FrameReport:
    """Everything that the command says of a file; a refusal ends the benchmark."""
    found = frame_report(file, NOTHING_SAID, NOTHING_KEPT)
    if found.reason is not None or not found.data["solved"]:
        raise SystemExit(found.reason or "the frame was not solved")
    return found


def child(cores: set[int], files: Sequence[Path]) -> None:
    """Work on files by some cores as soon as a line comes in; print the seconds."""
    os.sched_setaffinity(0, cores)
    report(files[0])
    print("ready", flush=True)
    sys.stdin.readline()
    start = time.perf_counter()
    for _ in in_order(report, files):
        pass
    print(time.perf_counter() - start, flush=True)


def seconds_of(*runs: tuple[Sequence[int], Sequence[Path]]) -> float:
    """Seconds until children that start together have done their files; a run: cores, files."""
    pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE, "text": True}
    children = [
        subprocess.Popen(
            [sys.executable, __file__, "child", ",".join(map(str, cores)), *map(str, files)],
            **pipes,
        )
        for cores, files in runs
    ]
    for one in children:
        one.stdout.readline()
    for one in children:
        one.stdin.write("go\n")
        one.stdin.flush()
    return max(float(one.communicate()[0]) for one in children)


def main() -> None:
    if sys.argv[1:2] == ["child"]:
        child({int(core) for core in sys.argv[2].split(",")}, [Path(f) for f in sys.argv[3:]])
        return
    cores = sorted(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else []
    if len(cores) < 2:
        raise SystemExit("it takes two cores, and a system that holds a process to some of them")
    frames = int(sys.argv[1]) if len(sys.argv) > 1 else 10
    millions = float(sys.argv[2]) if len(sys.argv) > 2 else 24.0
    first, second = cores[:2]
    print(f"{frames} frames of {millions:g} Mpx; load before: {os.getloadavg()[0]:.1f}")
    with tempfile.TemporaryDirectory() as folder:
        files = make(Path(folder), frames, millions)
        one = seconds_of(([first], files))
        two = seconds_of(([first, second], files))
        half = len(files) // 2
        apart = seconds_of(([first], files[:half]), ([second], files[half:]))
    print(f"one core {one:.1f} s, two {two:.1f} s: {one / two:.2f} times as fast")
    print(f"two processes that share nothing: {one / apart:.2f} times: this machine's bound")
    least = min(TARGET, one / apart)
    print(f"target {least:.2f}: {'met' if one / two >= least else 'missed'}")


if __name__ == "__main__":
    main()
