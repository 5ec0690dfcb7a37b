"""How long `nightglass rank` takes with 1,000 frames on record, two ways of shooting them.

Run: python benchmarks/rank_1000_frames.py [--charts]
A bench folder is made with a real store, and the real command is started on it, process start
included. As `nightglass measure` does at the end of every run, the results of each setting are put
into the store's tables first: `rank` reads them from there. "repeats": 50 settings at 5 places, 4
frames each, as a careful evening gives. "single": 200 settings at 5 places, one frame each: the
most settings, so the most to judge.
Promised: under 3 s for the table, CSV and JSON on an idle machine; charts are drawn after those are
out and are timed too with --charts. Prints wall and processor seconds, and wall time over that of
an empty Python process. On a busy machine processor seconds grow too (shared cores): look at the
load that is printed.
"""

from __future__ import annotations

import itertools
import math
import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from nightglass.bench.store.rows import FrameOnRecord
from nightglass.bench.store.store import open_store
from nightglass.bench.study.listed import bring_all_up_to_date
from nightglass.frame.record import Metadata
from nightglass.gear.bag import read_bench_file
from nightglass.gear.body import Body
from nightglass.gear.lens import Lens
from nightglass.gear.template import bench_template
from nightglass.spot.record import Measured, Spot, SpotImage

BODY = Body("Loan body", pitch_um=6.05, width_px=3872, height_px=2592, iso_steps=(400, 800, 1600))
PLACES = ((0.5, 0.5), (0.06, 0.06), (0.94, 0.06), (0.06, 0.94), (0.94, 0.94))
F_NUMBERS = (1.8, 2.0, 2.2, 2.5, 2.8, 3.2, 3.5, 4.0, 4.5, 5.6)
WAYS = {"repeats": (5, 4), "single": (20, 1)}
"""Lenses and frames at each place of a setting."""
ROUNDS = 3


def measured_spot(path: str, share: tuple[float, float], length_px: float, seed: int) -> Measured:
    """A Gaussian spot of some length and direction, as one frame would have given it."""
    rng = np.random.default_rng(seed)
    x0, y0 = share[0] * (BODY.width_px - 1), share[1] * (BODY.height_px - 1)
    half = math.ceil(1.5 * length_px) + 3
    left, top = round(x0) - half, round(y0) - half
    y, x = np.mgrid[: 2 * half + 1, : 2 * half + 1].astype(float)
    x, y = x + left - x0, y + top - y0
    t, s = rng.uniform(0, math.pi), length_px / 3.29
    u, v = x * math.cos(t) + y * math.sin(t), y * math.cos(t) - x * math.sin(t)
    light = 3e3 * np.exp(-0.5 * ((u / s) ** 2 + (v / (0.6 * s)) ** 2))
    area = 4 * math.pi * 0.6 * s * s
    spot = Spot(
        path, "green", x0, y0, 0.02, 0.02,
        length_px=length_px, length_px_err=0.1, length_px_err_noise=0.03,
        width_px=0.6 * length_px, width_px_err=0.1, width_px_err_noise=0.03,
        angle_degrees=math.degrees(t), angle_degrees_err=2.0,
        noise_area_px=area, noise_area_px_err=0.04 * area,
        peak_share=0.6, snr=400.0, aperture_px=max(5.0, 1.5 * length_px),
    )  # fmt: skip
    return Measured((spot,), {"green": SpotImage(light.astype(np.float32), left, top)})


def make_bench(folder: Path, lens_count: int, repeats: int) -> int:
    """Write bench.toml and a store of 1,000 frames; return how many."""
    folder.mkdir(exist_ok=True)
    lenses = tuple(Lens(f"Lens {k}", 11 + k, 11 + k, 1.8, 1.8) for k in range(lens_count))
    (folder / "bench.toml").write_text(bench_template(BODY, lenses), encoding="utf-8")
    rng = np.random.default_rng(1)
    bench = read_bench_file(folder)
    store = open_store(bench)
    frames = itertools.product(lenses, F_NUMBERS, enumerate(PLACES), range(repeats))
    length_px = 0.0
    count = 0
    for count, (lens, n, (k, place), again) in enumerate(frames, start=1):
        path = f"{lens.name}/f{n:g} place {k} {again}.dng"
        recorded = Metadata(
            body=BODY.name, lens=lens.name, focal_mm=lens.focal_mm_min, f_number=n, iso=400
        )
        frame = FrameOnRecord(
            path, f"{count:064x}", f"{count:064x}", 1, 1, "measured", kind="mosaic",
            width_px=BODY.width_px, height_px=BODY.height_px, metadata=recorded,
        )  # fmt: skip
        if again == 0:
            length_px = rng.uniform(3.5, 14.0) * (1.8 / n) ** 0.7
        store.keep(frame, measured_spot(path, place, length_px * rng.normal(1, 0.03), count))
    bring_all_up_to_date(store, bench)
    store.close()
    return count


def timed(command: list[str]) -> tuple[float, float]:
    """Wall and processor seconds of one command."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    start = time.perf_counter()
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
    wall = time.perf_counter() - start
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    used = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return wall, used


def main() -> None:
    """Make the benches, run the command on each after one warm-up, print."""
    charts = "--charts" if "--charts" in sys.argv[1:] else "--no-charts"
    empty = min(timed([sys.executable, "-c", ""])[0] for _ in range(ROUNDS))
    load = os.getloadavg()[0] if hasattr(os, "getloadavg") else math.nan
    print(f"load {load:.1f} on {os.cpu_count()} cores; empty Python process {empty:.3f} s")
    with tempfile.TemporaryDirectory() as name:
        for way, (lens_count, repeats) in WAYS.items():
            folder = Path(name) / way
            frames = make_bench(folder, lens_count, repeats)
            command = [sys.executable, "-m", "nightglass.cli.main", "rank", str(folder), charts]
            first = timed(command)
            rounds = [timed(command) for _ in range(ROUNDS)]
            wall, used = (statistics.median(r[k] for r in rounds) for k in (0, 1))
            settings = lens_count * len(F_NUMBERS)
            print(f"{way}: {frames} frames, {settings} settings, {charts[2:]}")
            print(f"  first call  {first[0]:.2f} s wall, {first[1]:.2f} s processor")
            print(f"  then        {wall:.2f} s wall, {used:.2f} s processor (median of {ROUNDS})")
            print(f"  {wall / empty:.0f} times an empty Python process")


if __name__ == "__main__":
    main()
