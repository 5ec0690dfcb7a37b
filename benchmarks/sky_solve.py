"""How many simulated frames are solved, how well and how fast, and whether one is solved wrongly.

    python benchmarks/sky_solve.py [frames] [millions of pixels] [usual | far | fisheye] [first]

usual: lenses of 12 to 50 mm on APS-C and full frame; far: 8 to 11 and 60 to 85 mm; fisheye: 7 to
16 mm of three projections. All declinations, any roll, 30 % land with a lit tent and lamps, a
satellite, an aircraft, 4,000 hot pixels, half of them portrait, without any hint. Time: find and
solve, processor time of all threads, the first frame (compilation) left out.

Pulls: (found - true) / error of focal length, centre, distortion. True is the camera that the
noiseless centres of light of the same stars give: the lens's own coma moves them outward, which
is the lens and not an error. How much that is stands beside it.
"""

from __future__ import annotations

import math
import sys
import time
from dataclasses import dataclass
from itertools import groupby

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import map_coordinates

from nightglass.optics.projection import Projection
from nightglass.scene.sky.fieldspots import FINE
from nightglass.scene.sky.starfield import Aberrations, LensSpots, Scene, Truth, lens_spots, render
from nightglass.sky.astrometry.camera import Camera, look_at
from nightglass.sky.astrometry.catalogue import load_stars
from nightglass.sky.astrometry.matching import fit_camera
from nightglass.sky.astrometry.refine import Solution, catalogue_vectors
from nightglass.sky.astrometry.solve import Unsolved, solve
from nightglass.sky.stars.find import FoundStars, find_stars

Array = NDArray[np.float64]

FOCALS_MM = {
    "usual": (12.0, 14.0, 16.0, 20.0, 24.0, 28.0, 35.0, 50.0),
    "far": (8.0, 9.0, 10.0, 11.0, 60.0, 70.0, 85.0),
    "fisheye": (7.0, 8.0, 10.0, 12.0, 15.0, 16.0),
}
ROUND: tuple[Projection, ...] = ("equisolid", "equidistant", "stereographic")
PULLS = ("focal", "centre x", "centre y", "k1", "k2")


@dataclass(frozen=True)
class Result:
    """What became of one frame; the numbers are nan where it was not solved."""

    number: int
    sensor_mm: float
    focal_mm: float
    outcome: str
    """solved, wrong, or why not."""
    find_s: float
    solve_s: float
    stars: int
    tried: int
    aim_off_degrees: float = math.nan
    rms_px: float = math.nan
    coma_percent: float = math.nan
    """What the lens's coma adds to the focal length."""
    pulls: tuple[float, ...] = (math.nan,) * 5
    projection: str = ""

    @property
    def seconds(self) -> float:
        return self.find_s + self.solve_s


def scene(number: int, millions: float, kind: str) -> tuple[Scene, float, float]:
    """Return the scene of a number, its sensor's and its focal length in mm; always the same."""
    rng = np.random.default_rng(1000 + number)
    focal_mm = float(rng.choice(FOCALS_MM[kind]))
    width_mm = float(rng.choice([23.5, 36.0]))
    long_px, short_px = int((millions * 1.5e6) ** 0.5), int((millions * 1e6 / 1.5) ** 0.5)
    width, height = (long_px, short_px) if number % 2 == 0 else (short_px, long_px)
    pitch_um = width_mm / long_px * 1000
    camera = Camera(
        width,
        height,
        focal_mm / pitch_um * 1000,
        (width - 1) / 2 + rng.normal(0, 0.002 * long_px),
        (height - 1) / 2 + rng.normal(0, 0.002 * long_px),
        rng.normal(0, 0.025),
        rng.normal(0, 0.008),
        ROUND[number % 3] if kind == "fisheye" else "rectilinear",
    )
    dec = math.degrees(math.asin(rng.uniform(-1, 1)))
    mild = Aberrations(coma_um=0.3, astigmatism_um=0.8)
    made = Scene(
        camera,
        look_at(rng.uniform(0, 360), dec, rng.uniform(0, 360)),
        lens_spots(camera, pitch_um, 2.0, mild, grid=(4, 6), size_px=31),
        exposure_s=float(min(20.0, 300 / focal_mm)),
        zero_counts_per_s=2500.0 * (focal_mm / 2.0) ** 2,
        faintest_g=9.5,
        land=0.3,
        aircraft=1,
        hot_pixels=4000,
        smooth=True,
        seed=number,
    )
    return made, width_mm, focal_mm


def light_centres(
    spots: LensSpots, camera: Camera, x_px: Array, y_px: Array, aperture_px: Array
) -> tuple[Array, Array]:
    """Return how far (x, y) [px] the centres of light lie from the ideal places.

    Of the light inside each star's aperture, as the centre of light is defined.
    """
    radii = np.arange(4.0, 14.0)
    grids = np.stack([_centres_within(spots, radius) for radius in radii])
    rows, columns = grids.shape[2:]
    at = np.stack(
        [
            np.clip(aperture_px - radii[0], 0, radii.size - 1),
            np.clip(y_px / camera.height_px * rows - 0.5, 0, rows - 1),
            np.clip(x_px / camera.width_px * columns - 0.5, 0, columns - 1),
        ]
    )
    dx, dy = (map_coordinates(grids[:, k], at, order=1, mode="nearest") for k in (0, 1))
    return dx, dy


def _centres_within(spots: LensSpots, radius_px: float) -> Array:
    """Centre of light inside a circle about itself, per cell: (2, rows, columns)."""
    stamps = spots.stamps.astype(np.float64)
    steps = (np.arange(stamps.shape[2]) - stamps.shape[2] // 2) / FINE
    x = y = np.zeros((*stamps.shape[:2], 1, 1))
    for _ in range(5):
        inside = np.hypot(steps - x, steps[:, None] - y) < radius_px
        light = (stamps * inside).sum(axis=(2, 3))
        x = ((stamps * inside * steps).sum(axis=(2, 3)) / light)[:, :, None, None]
        y = ((stamps * inside * steps[:, None]).sum(axis=(2, 3)) / light)[:, :, None, None]
    return np.stack([x[:, :, 0, 0], y[:, :, 0, 0]])


def true_values(
    made: Scene, drawn: Truth, stars: FoundStars, solution: Solution
) -> tuple[Array, Array]:
    """Return focal length, centre and distortion that noiseless centres give; found values."""
    order = np.argsort(load_stars().magnitude, kind="stable")
    catalogue = order[solution.match.catalogue]
    place = np.full(order.size, -1)
    known = np.flatnonzero(drawn.index >= 0)
    place[drawn.index[known]] = known
    use = place[catalogue] >= 0
    at = place[catalogue[use]]
    x, y = drawn.x_px[at], drawn.y_px[at]
    pairs = solution.match.found[use]
    dx, dy = light_centres(made.spots, made.camera, x, y, stars.aperture_px[pairs])
    err = np.hypot(stars.x_px_err[pairs], stars.y_px_err[pairs]) / math.sqrt(2)
    vectors = catalogue_vectors()[0][solution.match.catalogue[use]]
    start = solution.camera
    fit = fit_camera(start, solution.rotation, vectors, np.column_stack([x + dx, y + dy]), err)
    return _values(fit.camera), _values(solution.camera)


def _values(camera: Camera) -> Array:
    return np.array([camera.focal_px, camera.centre_x_px, camera.centre_y_px, camera.k1, camera.k2])


def run(number: int, millions: float, kind: str) -> Result:
    """Render, find, solve and judge one frame."""
    made, width_mm, focal_mm = scene(number, millions, kind)
    frame, drawn = render(made)
    start = time.process_time()
    stars = find_stars(frame).stars
    find_s = time.process_time() - start
    answer = solve(stars, frame.width_px, frame.height_px)
    solve_s = time.process_time() - start - find_s
    base = (number, width_mm, focal_mm)
    counts = (find_s, solve_s, len(stars), len(answer.tried))
    if isinstance(answer, Unsolved):
        return Result(*base, answer.reason, *counts)
    cosine = min(1.0, float(answer.rotation[2] @ made.rotation[2]))
    away = math.degrees(math.acos(cosine))
    ratio = answer.camera.focal_px / made.camera.focal_px
    bad = away > 0.5 or abs(ratio - 1) > 0.01
    if bad and answer.camera.projection == made.camera.projection:
        return Result(*base, "WRONG", *counts, away, answer.rms_px)
    if answer.camera.projection != made.camera.projection:
        outcome = "WRONG" if away > 0.5 else "solved"
        return Result(
            *base, outcome, *counts, away, answer.rms_px, projection=answer.camera.projection
        )
    true, got = true_values(made, drawn, stars, answer)
    return Result(
        *base,
        "solved",
        *counts,
        away,
        answer.rms_px,
        100 * (true[0] / made.camera.focal_px - 1),
        tuple((got - true) / answer.fit.errors),
    )


def told(r: Result) -> str:
    words = (
        f"{r.number}: {r.focal_mm:g} mm on {r.sensor_mm:g}, {r.stars} stars, find "
        f"{r.find_s:.2f} s, solve {r.solve_s:.2f} s ({r.tried} tries): {r.outcome}"
    )
    if math.isfinite(r.aim_off_degrees):
        words += f", aim off {r.aim_off_degrees:.3f} degrees, rms {r.rms_px:.2f} px"
    if r.projection:
        words += f", TAKEN AS {r.projection}"
    elif math.isfinite(r.pulls[0]):
        words += f", pulls {' '.join(f'{p:+.1f}' for p in r.pulls)}, coma {r.coma_percent:+.3f} %"
    return words


def summary(results: list[Result]) -> None:
    """Print failures, the slowest, the table by lens and sensor, and the pulls."""
    solved = [r for r in results if r.outcome == "solved"]
    wrong = [r for r in results if r.outcome == "WRONG"]
    print(f"\nsolved {len(solved)} of {len(results)}, wrong {len(wrong)}")
    for r in results:
        if r.outcome != "solved" or r.projection:
            print("  ", told(r))
    timed = results[1:]
    seconds = np.array([r.seconds for r in timed])
    print(
        f"processor time: median {np.median(seconds):.2f} s (find "
        f"{np.median([r.find_s for r in timed]):.2f}, solve "
        f"{np.median([r.solve_s for r in timed]):.2f}), longest {seconds.max():.2f} s, "
        f"over 2 s: {np.count_nonzero(seconds > 2)}; solve alone longest "
        f"{max(r.solve_s for r in timed):.2f} s"
    )
    print("slowest:")
    for r in sorted(timed, key=lambda r: -r.seconds)[:6]:
        print("  ", told(r))
    print("focal  sensor  solved  median s  longest s")
    for key, group in groupby(
        sorted(results, key=lambda r: (r.focal_mm, r.sensor_mm)),
        key=lambda r: (r.focal_mm, r.sensor_mm),
    ):
        rows = list(group)
        good = sum(r.outcome == "solved" for r in rows)
        times = [r.seconds for r in rows]
        print(
            f"{key[0]:5g}  {key[1]:6g}  {good:3d}/{len(rows):<3d} {np.median(times):8.2f}  "
            f"{max(times):8.2f}"
        )
    table = np.array([r.pulls for r in solved if math.isfinite(r.pulls[0])])
    if len(table):
        print("pulls: median, share within 1, beyond 2, beyond 3")
        for k, name in enumerate(PULLS):
            p = table[:, k]
            print(
                f"  {name:9} {np.median(p):+.2f}  {np.mean(np.abs(p) < 1):.0%}  "
                f"{np.mean(np.abs(p) > 2):.0%}  {np.mean(np.abs(p) > 3):.0%}"
            )


def main() -> None:
    given = dict(enumerate(sys.argv[1:]))
    frames, millions = int(given.get(0, 6)), float(given.get(1, 24.0))
    kind, first = given.get(2, "usual"), int(given.get(3, 0))
    results = []
    for number in range(first, first + frames):
        results.append(run(number, millions, kind))
        print(told(results[-1]), flush=True)
    summary(results)


if __name__ == "__main__":
    main()
