"""How many simulated frames are solved, how well and how fast, and whether one is solved wrongly.

    python benchmarks/sky_solve.py [frames] [millions of pixels]

Lenses of 12 to 50 mm on APS-C and full frame, all declinations, any roll, 30 % land, half of them
portrait, without any hint. Time: find and solve, the first frame (compilation) left out.
"""

from __future__ import annotations

import math
import sys
import time

import numpy as np

from nightglass.scene.starfield import Aberrations, Scene, lens_spots, render
from nightglass.sky.camera import Camera, look_at
from nightglass.sky.find import find_stars
from nightglass.sky.refine import Solution
from nightglass.sky.solve import solve


def scene(number: int, millions: float) -> Scene:
    """Return the scene of a number; the same number is the same frame."""
    rng = np.random.default_rng(1000 + number)
    focal_mm = float(rng.choice([12, 14, 16, 20, 24, 28, 35, 50]))
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
    )
    dec = math.degrees(math.asin(rng.uniform(-1, 1)))
    mild = Aberrations(coma_um=0.3, astigmatism_um=0.8)
    return Scene(
        camera,
        look_at(rng.uniform(0, 360), dec, rng.uniform(0, 360)),
        lens_spots(camera, pitch_um, 2.0, mild, grid=(3, 3), size_px=31),
        exposure_s=float(min(20.0, 300 / focal_mm)),
        zero_counts_per_s=2500.0 * (focal_mm / 2.0) ** 2,
        faintest_g=9.0,
        land=0.3,
        hot_pixels=4000,
        seed=number,
    )


def main() -> None:
    frames = int(sys.argv[1]) if len(sys.argv) > 1 else 6
    millions = float(sys.argv[2]) if len(sys.argv) > 2 else 24.0
    solved = wrong = 0
    seconds = []
    for number in range(frames):
        truth = scene(number, millions)
        frame, _ = render(truth)
        start = time.perf_counter()
        answer = solve(find_stars(frame).stars, frame.width_px, frame.height_px)
        seconds.append(time.perf_counter() - start)
        focal = truth.camera.focal_px
        if not isinstance(answer, Solution):
            print(f"{number}: not solved, {focal:.0f} px, {seconds[-1]:.1f} s")
            continue
        cosine = min(1.0, float(answer.rotation[2] @ truth.rotation[2]))
        away = math.degrees(math.acos(cosine))
        ratio = answer.camera.focal_px / focal
        bad = away > 0.5 or abs(ratio - 1) > 0.01
        wrong += bad
        solved += not bad
        print(
            f"{number}: aim off {away:.3f} degrees, focal length x {ratio:.5f}, rms "
            f"{answer.rms_px:.2f} px, {seconds[-1]:.2f} s{' WRONG' if bad else ''}"
        )
    print(f"solved {solved} of {frames}, wrong {wrong}, median {np.median(seconds[1:]):.2f} s")


if __name__ == "__main__":
    main()
