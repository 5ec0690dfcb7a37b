"""Costs of finding and measuring one star in a 24 Mpx frame, as ratios in one run.

Run: python benchmarks/spot_speed.py. It writes an uncompressed DNG of 6000 x 4000 pixels in a
scratch folder and prints, after a warm-up: finding against what rawpy takes to decode and copy
the mosaic, seconds of measuring (three colours and error bars), peak memory of opening, finding
and measuring above the decoder's mosaic and the libraries, two cores against one, and a cold
start. Times are medians; on a busy machine only the ratios mean anything.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from multiprocessing import get_context
from pathlib import Path

import numpy as np
import rawpy

from nightglass.frame.open import open_frame
from nightglass.frame.record import Frame
from nightglass.scene.dng import write_dng
from nightglass.spot.find import find_star
from nightglass.spot.measure import measure_frame

WIDTH, HEIGHT, BLACK, WHITE = 6000, 4000, 512, 16383
PATTERN = np.array([[0, 1], [1, 2]], dtype=np.uint8)
LEVEL = np.array([0.6, 1.0, 0.7])
SIZES_PX = (6.0, 20.0, 45.0)
ROUNDS = 7


def frame_samples(length_px: float, seed: int) -> np.ndarray:
    """Return a frame with an even disc of a 90 % length, 200 hot pixels and a sloped floor."""
    rng = np.random.default_rng(seed)
    counts = rng.normal(BLACK + 20, 4, (HEIGHT, WIDTH)).astype(np.float32)
    counts += np.linspace(0, 30, WIDTH, dtype=np.float32)[None, :]
    rows, columns = np.indices((160, 160))
    radius = length_px / 0.805384 / 2
    disc = np.clip(radius - np.hypot(columns - 80.3, rows - 79.6) + 0.5, 0, 1)
    colour = PATTERN[(rows + 1900) % 2, (columns + 2700) % 2]
    counts[1900:2060, 2700:2860] += 8000 * disc * LEVEL[colour]
    hot = (rng.integers(0, HEIGHT, 200), rng.integers(0, WIDTH, 200))
    counts[hot] += rng.uniform(500, 15000, 200)
    return np.clip(counts, 0, WHITE).astype(np.uint16)


def median_s(work: Callable[[], object]) -> float:
    """Return the median seconds of several runs after one that is not counted."""
    work()
    times = []
    for _ in range(ROUNDS):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return statistics.median(times)


def decode_and_copy(path: Path) -> np.ndarray:
    """Return the mosaic as rawpy gives it, copied."""
    with path.open("rb") as file, rawpy.imread(file) as raw:
        return raw.raw_image_visible.copy()


def opening_ratio(path: Path) -> float:
    """Return processor time of opening (hash, metadata, ceiling) over that of decode and copy.

    Taken by turns, the least of each: what else the machine does adds to both and to neither
    alike.
    """
    least = {decode_and_copy: float("inf"), open_frame: float("inf")}
    for _ in range(3 * ROUNDS):
        for work in least:
            start = time.process_time()
            work(path)
            least[work] = min(least[work], time.process_time() - start)
    return least[open_frame] / least[decode_and_copy]


def measure_file(path: str) -> float:
    """Open, find and measure; for the two-core run."""
    spot = measure_frame(open_frame(path)).spots[1]
    return spot.length_px or 0.0


def cores_ratio(path: Path) -> float:
    """Return how many times as fast two processes do 24 files as one does."""
    files = [str(path)] * 24
    taken = []
    for processes in (1, 2):
        with get_context("spawn").Pool(processes) as pool:
            pool.map(measure_file, files[: 2 * processes], chunksize=1)
            start = time.perf_counter()
            pool.map(measure_file, files, chunksize=1)
            taken.append(time.perf_counter() - start)
    return taken[0] / taken[1]


PEAK = """
import sys
from pathlib import Path
import numpy, scipy.ndimage, numba, rawpy
from nightglass.frame.open import open_frame
from nightglass.spot.measure import measure_frame
small, large = sys.argv[1:]
def status(name):
    return next(int(l.split()[1]) for l in open("/proc/self/status") if l.startswith(name))
measure_frame(open_frame(small))
before = status("VmRSS")
Path("/proc/self/clear_refs").write_text("5")  # the peak starts anew, compiling left behind
measure_frame(open_frame(large))
print(status("VmHWM") - before)
"""


def peak_bytes_per_px(small: Path, large: Path) -> float:
    """Return peak bytes per pixel above the decoder's mosaic (2 per pixel) and the libraries."""
    call = [sys.executable, "-c", PEAK, str(small), str(large)]
    kilobytes = int(subprocess.run(call, check=True, capture_output=True, text=True).stdout)
    return kilobytes * 1024 / (WIDTH * HEIGHT) - 2


def cold_start_s(path: Path) -> tuple[float, float]:
    """Return seconds of `nightglass spot FILE` with an empty compiler cache and a full one."""
    taken = []
    with tempfile.TemporaryDirectory() as cache:
        for _ in range(2):
            start = time.perf_counter()
            subprocess.run(
                [sys.executable, "-m", "nightglass.cli.main", "spot", str(path), "--json"],
                check=True,
                capture_output=True,
                env={"NUMBA_CACHE_DIR": cache, "PATH": "/usr/bin:/bin"},
            )
            taken.append(time.perf_counter() - start)
    return taken[0], taken[1]


def main() -> None:
    """Print the figures."""
    with tempfile.TemporaryDirectory() as folder:
        paths = {}
        for size in SIZES_PX:
            path = Path(folder) / f"star_{size:g}.dng"
            write_dng(
                path,
                frame_samples(size, 3),
                pattern=PATTERN,
                black=BLACK,
                white_level=WHITE,
                compression="none",
                verify=False,
            )
            paths[size] = path
        small = Path(folder) / "small.dng"
        write_dng(
            small,
            frame_samples(6.0, 3)[1800:2200, 2500:3100],
            pattern=PATTERN,
            black=BLACK,
            white_level=WHITE,
            compression="none",
            verify=False,
        )
        report(paths, small)


def report(paths: dict[float, Path], small: Path) -> None:
    """Measure and print."""
    frames: dict[float, Frame] = {size: open_frame(path) for size, path in paths.items()}
    decode = median_s(lambda: decode_and_copy(paths[6.0]))
    find = median_s(lambda: find_star(frames[6.0]))
    print(f"finding / (decode + copy): {find / decode:.2f} (at most 1.0)   [{find:.3f} s]")
    opening = opening_ratio(paths[6.0])
    print(f"opening / (decode + copy), processor time of all threads: {opening:.2f} (at most 1.3)")
    for size, frame in frames.items():
        whole = median_s(lambda frame=frame: measure_frame(frame))
        limit = 0.15 if size <= 20 else 0.5
        print(f"measuring {size:g} px: {whole - find:.3f} s (at most {limit} s)")
    print(f"two cores / one: {cores_ratio(paths[20.0]):.2f} (at least 1.7)")
    print(f"peak memory: {peak_bytes_per_px(small, paths[6.0]):.2f} bytes per px (at most 4)")
    cold, warm = cold_start_s(paths[6.0])
    print(f"first result of a cold start: {cold:.1f} s (at most 5 s), later {warm:.1f} s")


if __name__ == "__main__":
    main()
