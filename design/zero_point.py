"""Zero points of rendered frames against the planted ones: how much the bright third must weigh.

Ten skies with stars far beyond the catalogue: long and short trails, soft corners, the Milky Way,
wide and long lenses. Printed for each weight of unknown light (UNKNOWN_LIGHT): the
miss, the error told, and the miss over the error; then the light told as lost in the corners,
where none is. Run: python design/zero_point.py   (two minutes)
"""

from __future__ import annotations

import numpy as np

import nightglass.sky.photometry.zero_point as room
from nightglass.scene.sky.starfield import Aberrations, Scene, lens_spots, render
from nightglass.sky.astrometry.camera import look_at, plain_camera
from nightglass.sky.astrometry.refine import Solution
from nightglass.sky.astrometry.solve import solve
from nightglass.sky.photometry.open_sky import hits_of, open_cells_of
from nightglass.sky.stars.find import find_stars

WEIGHTS_MAG = (0.0, 0.05, 0.1, 0.2)
SKIES = {
    "trails of 20 s": (2600.0, (140.0, 30.0, 20.0), 2.0, 20.0, (0.5, 0.3, 0.0), 1.2e5, 120.0),
    "soft corners": (2600.0, (60.0, 20.0, 0.0), 1.8, 8.0, (0.8, 1.5, 1.5), 1.2e5, 120.0),
    "two seconds": (2600.0, (200.0, 50.0, 30.0), 2.0, 2.0, (0.3, 0.0, 0.0), 1.2e5, 40.0),
    "Milky Way": (2600.0, (300.0, 35.0, 0.0), 2.0, 10.0, (0.6, 0.5, 0.0), 1.2e5, 120.0),
    "Milky Way, 3 s": (2600.0, (285.0, 5.0, 0.0), 2.0, 3.0, (0.6, 0.5, 0.0), 1.2e5, 60.0),
    "wide lens": (1400.0, (140.0, 30.0, 20.0), 2.0, 15.0, (0.3, 0.6, 0.8), 4e4, 120.0),
    "long lens": (6000.0, (90.0, 30.0, 20.0), 2.0, 4.0, (0.6, 0.5, 0.0), 4e5, 60.0),
    "far out of focus": (2600.0, (330.0, 45.0, 0.0), 1.8, 8.0, (2.0, 1.0, 0.0), 1.2e5, 120.0),
    "near the pole": (2600.0, (30.0, 80.0, 0.0), 2.0, 30.0, (0.3, 0.3, 0.0), 6e4, 150.0),
    "trails of 40 s": (2600.0, (110.0, 10.0, 20.0), 2.0, 40.0, (0.5, 0.0, 0.0), 6e4, 120.0),
}
"""Focal length [px], aim, f-number, seconds, defocus, coma and astigmatism [um], green counts per
second of a star of G 0, counts of the sky."""


def main() -> None:
    print(f"sky: miss, error, pull for weights of {WEIGHTS_MAG} mag; corner of the last but one")
    for seed, (name, sky) in enumerate(SKIES.items()):
        focal_px, aim, f_number, seconds, lens, zero, green = sky
        camera = plain_camera(2400, 1610, focal_px)
        spots = lens_spots(camera, 6.0, f_number, Aberrations(*lens), grid=(3, 4), size_px=41)
        scene = Scene(
            camera,
            look_at(*aim),
            spots,
            exposure_s=seconds,
            zero_counts_per_s=zero,
            faintest_g=11.5,
            sky_counts=(green / 2, green, 0.66 * green),
            glow=0.3,
            clipping=60000,
            hot_pixels=500,
            smooth=True,
            seed=seed,
        )
        frame, _ = render(scene)
        found = find_stars(frame)
        solution = solve(found.stars, frame.width_px, frame.height_px)
        if not isinstance(solution, Solution):
            print(f"{name}: not solved")
            continue
        hits = hits_of(found, solution)
        cells = open_cells_of(hits, solution)
        true = 2.5 * np.log10(zero * seconds)
        told = []
        for weight in WEIGHTS_MAG:
            room.UNKNOWN_LIGHT = weight
            point = room.zero_point(found, solution, hits, cells)
            if point is None:
                told.append("none")
                continue
            miss = point.zero - true
            told.append(f"{miss:+.3f} ± {point.err:.3f} ({miss / point.err:+.1f})")
            if weight == WEIGHTS_MAG[2]:
                err = np.sqrt(point.doubt[0] + point.doubt[2] + 2 * point.doubt[1])
                corner = f"{point.slope + point.slope2:+.3f} ± {err:.3f}"
        print(f"{name}: {', '.join(told)}; {corner}", flush=True)


if __name__ == "__main__":
    main()
