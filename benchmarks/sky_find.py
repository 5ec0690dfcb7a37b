"""All stars of a frame, found and measured, against sep on the same samples; one run, one frame.

    python benchmarks/sky_find.py [millions of pixels] [stars]

The frame: Bayer, Gaussian stars of FWHM 3 px with counts by the slope of the star counts, 5,000
hot pixels. sep gets the mosaic over its per-colour sky level (float32), its own background and
extraction: threshold 1.5 sigma on its default 3 x 3 filter, least area 5, no cleaning; a second
time at 2.5 sigma for information. Ours: matched filter, SNR 5. All run once before the clock
starts; the best of three counts, in processor time of one thread and in time by the wall clock.
Completeness counts injected stars at SNR 4.5 to 5.5 by the matched filter without a neighbour
within 2 FWHM; a star is found within 2 px. False: no injected star within 3 px.

Then peak memory, in a child of its own, over what libraries and frame take there, and ten frames
by two threads against one (`python benchmarks/sky_find.py 24 6000 threads` alone), beside what two
processes gain that share nothing.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import sep
from scipy.spatial import cKDTree

from nightglass.frame.record import Frame
from nightglass.sky.stars.background import sky_level
from nightglass.sky.stars.find import find_stars

SIGMA = 3.0 / 2.3548
SKY = np.array([60.0, 120.0, 80.0])
SHARES = np.array([0.5, 1.0, 0.6])
PATTERN = np.array([[0, 1], [1, 2]], dtype=np.uint8)
FRAMES, TURNS = 10, 3
CROP = np.s_[:1000, :1500]
"""What photutils gets: the whole frame would take it minutes."""


def make(pixels: float, stars: int) -> tuple[Frame, np.ndarray, np.ndarray]:
    """Return the frame, the places (n, 2) and the matched-filter SNR of the injected stars."""
    rng = np.random.default_rng(1)
    rows, columns = int((pixels / 1.5) ** 0.5), int((pixels * 1.5) ** 0.5)
    colour = PATTERN[np.arange(rows)[:, None] % 2, np.arange(columns)[None, :] % 2]
    light = SKY[colour].astype(np.float32)
    places = np.column_stack(
        [rng.uniform(20, columns - 21, stars), rng.uniform(20, rows - 21, stars)]
    )
    # Half a dex of stars per magnitude: light^-1.25 in all.
    green = 300.0 * rng.uniform(size=stars) ** (-1 / 1.25)
    green = np.minimum(green, 4e5)
    for (x, y), counts in zip(places, green, strict=True):
        cx, cy = int(x), int(y)
        box = np.s_[cy - 7 : cy + 9, cx - 7 : cx + 9]
        v, u = np.mgrid[cy - 7 : cy + 9, cx - 7 : cx + 9]
        spot = np.exp(-0.5 * ((u - x) ** 2 + (v - y) ** 2) / SIGMA**2) / (2 * np.pi * SIGMA**2)
        light[box] += (counts * SHARES[colour[box]] * spot).astype(np.float32)
    noisy = light + np.sqrt(light + 9) * rng.standard_normal(light.shape, dtype=np.float32)
    hot = rng.integers(0, light.size, 5000)
    noisy.ravel()[hot] += 60 + rng.exponential(800, 5000).astype(np.float32)
    samples = np.clip(np.rint(noisy + 512), 0, 16000).astype(np.uint16)
    frame = Frame(samples, PATTERN, np.full((2, 2), 512.0), np.full((2, 2), 16000.0), "mosaic")
    # Mean over the mosaic of share^2 / variance, times the spot's own sum of squares.
    cell = np.mean((SHARES**2 / (SKY + 9))[[0, 1, 1, 2]])
    return frame, places, green * np.sqrt(cell / (4 * np.pi * SIGMA**2))


def over_the_sky(frame: Frame) -> np.ndarray:
    """Return the mosaic over its per-colour sky level, float32, as the other libraries get it."""
    levels = np.nanmedian(sky_level(frame).level, axis=(0, 1))
    rows, columns = np.arange(frame.height_px)[:, None], np.arange(frame.width_px)[None, :]
    colour = PATTERN[rows % 2, columns % 2]
    return np.ascontiguousarray(frame.samples.astype(np.float32) - 512 - levels[colour])


def ours(frame: Frame) -> np.ndarray:
    found = find_stars(frame).stars
    return np.column_stack([found.x_px, found.y_px])


def by_sep(flat: np.ndarray, threshold: float) -> np.ndarray:
    background = sep.Background(flat)
    objects = sep.extract(
        flat - background, threshold, err=background.globalrms, minarea=5, clean=False
    )
    return np.column_stack([objects["x"], objects["y"]])


def by_photutils(flat: np.ndarray) -> np.ndarray | None:
    """Return places, or None where photutils is not installed."""
    try:
        from photutils.background import Background2D
        from photutils.detection import DAOStarFinder
    except ImportError:
        return None
    background = Background2D(flat, 64)
    finder = DAOStarFinder(5 * background.background_rms_median, 3.0)
    table = finder(flat - background.background)
    names = ("x_centroid", "y_centroid") if "x_centroid" in table.colnames else (
        "xcentroid", "ycentroid")  # fmt: skip
    return np.column_stack([table[name] for name in names])


def timed(run) -> tuple[float, float, np.ndarray]:
    """Return the best processor time and time of TURNS runs, and what came back."""
    run()
    best, wall = np.inf, np.inf
    for _ in range(TURNS):
        start, begun = time.process_time(), time.perf_counter()
        got = run()
        best, wall = min(best, time.process_time() - start), min(wall, time.perf_counter() - begun)
    return best, wall, got


def told(name: str, answer: tuple, places: np.ndarray, faint: np.ndarray) -> float:
    """Print one line and return the processor time."""
    seconds, wall, got = answer
    near = np.asarray(cKDTree(got).query(places)[0])
    false = np.mean(np.asarray(cKDTree(places).query(got)[0]) > 3.0)
    print(
        f"{name}: {seconds:.2f} s ({wall:.2f} s by the clock), {len(got)} found, false "
        f"{100 * false:.2f} %, complete at SNR 5: {100 * np.mean(near[faint] < 2.0):.1f} % of "
        f"{np.count_nonzero(faint)}"
    )
    return seconds


def side_by_side(millions: float, stars: int) -> None:
    frame, places, snr = make(millions * 1e6, stars)
    flat = over_the_sky(frame)
    sep.set_extract_pixstack(3_000_000)
    pairs = cKDTree(places)
    lone = np.array([len(pairs.query_ball_point(p, 6.0)) == 1 for p in places])
    faint = lone & (snr > 4.5) & (snr < 5.5)
    mine = told("nightglass", timed(lambda: ours(frame)), places, faint)
    other = told("sep, 1.5 sigma", timed(lambda: by_sep(flat, 1.5)), places, faint)
    told("sep, 2.5 sigma", timed(lambda: by_sep(flat, 2.5)), places, faint)
    print(f"nightglass takes {mine / other:.2f} of sep's time")
    start = time.process_time()
    got = by_photutils(flat[CROP])
    if got is None:
        print("photutils: not installed, left out")
        return
    seconds = time.process_time() - start
    share = flat[CROP].size / flat.size
    print(
        f"photutils, 5 sigma, on {100 * share:.0f} % of the frame: {seconds:.2f} s, "
        f"{len(got)} found, places only"
    )


def memory_child(path: str) -> None:
    """Print the bytes that finding takes at its peak over libraries and mosaic (Linux)."""
    samples = np.load(path)
    levels = np.full((2, 2), 512.0), np.full((2, 2), 16000.0)
    # The compiled loops and what they load count as libraries.
    find_stars(Frame(samples[:400, :600].copy(), PATTERN, *levels, "mosaic"))
    frame = Frame(samples, PATTERN, *levels, "mosaic")
    before = _status("VmRSS")
    # Imports have a higher peak than finding: the mark is set back first.
    Path("/proc/self/clear_refs").write_text("5", encoding="ascii")
    find_stars(frame)
    print(_status("VmHWM") - before)


def _status(name: str) -> int:
    for line in Path("/proc/self/status").read_text(encoding="ascii").splitlines():
        if line.startswith(name):
            return int(line.split()[1]) * 1024
    raise SystemExit(f"{name} is not told by this system: memory is measured on Linux only")


def memory(millions: float, stars: int) -> None:
    frame, _, _ = make(millions * 1e6, stars)
    with tempfile.TemporaryDirectory() as folder:
        # The frame comes from a file as from a decoder: making it would be the peak.
        path = Path(folder) / "samples.npy"
        np.save(path, frame.samples)
        command = [sys.executable, __file__, "memory", str(path)]
        answer = subprocess.run(command, capture_output=True, check=True, text=True)
    more = int(answer.stdout) / frame.samples.size
    print(f"peak memory over libraries and mosaic: {more:.1f} bytes per pixel")


def threads(millions: float, stars: int) -> None:
    frame, _, _ = make(millions * 1e6, stars)
    find_stars(frame)
    times = []
    for workers in (1, 2):
        with ThreadPoolExecutor(workers) as pool:
            start = time.perf_counter()
            list(pool.map(find_stars, [frame] * FRAMES))
            times.append(time.perf_counter() - start)
    print(
        f"{FRAMES} frames: {times[0]:.2f} s by one thread, {times[1]:.2f} s by two, "
        f"{times[0] / times[1]:.2f} times as fast"
    )


def alone_child(path: str) -> None:
    """Find the stars of half of the frames as soon as a line comes in; print the seconds."""
    frame = Frame(
        np.load(path), PATTERN, np.full((2, 2), 512.0), np.full((2, 2), 16000.0), "mosaic"
    )
    find_stars(frame)
    print("ready", flush=True)
    sys.stdin.readline()
    start = time.perf_counter()
    for _ in range(FRAMES // 2):
        find_stars(frame)
    print(time.perf_counter() - start, flush=True)


def processes(millions: float, stars: int) -> None:
    """What two cores of this machine can gain: processes that share neither lock nor memory."""
    frame, _, _ = make(millions * 1e6, stars)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "samples.npy"
        np.save(path, frame.samples)
        seconds = [_at_once(path, count) for count in (1, 2)]
    print(
        f"two processes that share nothing, {FRAMES // 2} frames each: "
        f"{2 * seconds[0] / seconds[1]:.2f} times as fast as one: this machine's bound"
    )


def _at_once(path: Path, count: int) -> float:
    """Seconds until `count` processes that start together have done their frames."""
    command = [sys.executable, __file__, "alone", str(path)]
    pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE, "text": True}
    children = [subprocess.Popen(command, **pipes) for _ in range(count)]
    for child in children:
        child.stdout.readline()
    for child in children:
        child.stdin.write("go\n")
        child.stdin.flush()
    return max(float(child.communicate()[0]) for child in children)


def main() -> None:
    if sys.argv[1:2] == ["memory"]:
        memory_child(sys.argv[2])
        return
    if sys.argv[1:2] == ["alone"]:
        alone_child(sys.argv[2])
        return
    millions = float(sys.argv[1]) if len(sys.argv) > 1 else 6.0
    stars = int(sys.argv[2]) if len(sys.argv) > 2 else 6000
    if sys.argv[3:] != ["threads"]:
        side_by_side(millions, stars)
        memory(millions, stars)
    threads(millions, stars)
    processes(millions, stars)


if __name__ == "__main__":
    main()
