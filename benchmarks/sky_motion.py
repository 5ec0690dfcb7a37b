"""Lens and motion told apart on a rendered frame: what comes out against what was drawn.

    python benchmarks/sky_motion.py [exposure in s] [drift x px] [drift y px]

A 20 mm f/1.8 lens with coma and astigmatism on 13 Mpx, stars by the catalogue to G 10. One line
per zone: length and width measured, with error, over the truth; trail seen minus trail drawn.
"""

from __future__ import annotations

import sys
import time

import numpy as np

from nightglass.scene.starfield import Aberrations, Scene, lens_spots, render
from nightglass.sky.camera import Camera, look_at
from nightglass.sky.find import find_stars
from nightglass.sky.motion import measure_motion
from nightglass.sky.refine import Solution
from nightglass.sky.solve import solve
from nightglass.sky.zones import ZONE_COLUMNS, ZONE_ROWS


def main() -> None:
    exposure_s = float(sys.argv[1]) if len(sys.argv) > 1 else 20.0
    drift = (float(sys.argv[2]), float(sys.argv[3])) if len(sys.argv) > 3 else (0.0, 0.0)
    camera = Camera(4500, 3000, 2500.0, 2255, 1490, -0.02, 0.005)
    terms = Aberrations(defocus_um=1.0, coma_um=2.0, astigmatism_um=2.0)
    spots = lens_spots(camera, 6.0, 1.8, terms, grid=(ZONE_ROWS, ZONE_COLUMNS))
    scene = Scene(
        camera,
        look_at(300, 10, 30),
        spots,
        exposure_s=exposure_s,
        zero_counts_per_s=2e6 / exposure_s,
        faintest_g=10,
        drift_px=drift,
        clipping=60000,
        seed=3,
    )
    frame, _ = render(scene)
    found = find_stars(frame)
    solution = solve(found.stars, frame.width_px, frame.height_px)
    if not isinstance(solution, Solution):
        print("not solved:", solution.reason)
        return
    start = time.perf_counter()
    motion = measure_motion(frame, found, solution, exposure_s)
    print(f"{motion.words}; {time.perf_counter() - start:.1f} s with compilation")
    for zone in motion.zones:
        true = spots.truth(zone.row, zone.column)
        if zone.length_px is None or zone.trail_seen_px is None:
            print(zone.row, zone.column, zone.reason)
            continue
        drawn = np.add(zone.trail_expected_px, drift)
        off = np.subtract(zone.trail_seen_px, drawn)
        print(
            f"{zone.row},{zone.column}: {zone.stars} stars, length {zone.length_px:.2f} +- "
            f"{zone.length_px_err:.2f} (x {zone.length_px / true.length_px:.3f}), width x "
            f"{zone.width_px / true.width_px:.3f}, trail {np.hypot(*drawn):.1f} px, off "
            f"{off[0]:+.2f} {off[1]:+.2f}"
        )


if __name__ == "__main__":
    main()
