"""How true the comparison of redrawn stars is: the sky's own spot put in the place of its stars.

Six fields, crowded and empty ones, of one lens whose spot is known: the ratio sky over redrawn
ought to be 1. Printed: ln(ratio) and its error from the stars' own scatter alone.
Run: python design/redrawn_fields.py   (about a minute)
"""

from __future__ import annotations

import math

import numpy as np

from nightglass.proof.redraw.redrawn import redrawn
from nightglass.proof.redraw.sizes import METHOD_LOG_ERR, redrawn_size
from nightglass.proof.sight import Sight
from nightglass.scene.sky.fieldspots import FINE
from nightglass.scene.sky.starfield import Aberrations, Scene, lens_spots, render
from nightglass.sky.astrometry.camera import look_at, plain_camera
from nightglass.sky.astrometry.refine import Solution
from nightglass.sky.astrometry.solve import Hint, solve
from nightglass.sky.stars.find import find_stars

FIELDS = 6


def main() -> None:
    camera = plain_camera(1300, 820, 1100.0)
    terms = Aberrations(defocus_um=1.2, coma_um=0.0, astigmatism_um=0.0, curvature_um=0.0)
    spots = lens_spots(camera, 6.0, 2.0, terms, grid=(1, 1), size_px=31)
    first = spots.stamps.shape[2] // 2 % FINE
    spot = spots.stamps[0, 0][first::FINE, first::FINE].astype(np.float64)
    logs = []
    for field in range(FIELDS):
        scene = Scene(
            camera,
            look_at(300.0 - 40 * field, 25.0 - 10 * field, 30.0),
            spots,
            exposure_s=16.0,
            zero_counts_per_s=4e4,
            faintest_g=11.0,
            clipping=60000,
            satellites=0,
            seed=5 + field,
        )
        frame, _ = render(scene)
        found = find_stars(frame)
        solution = solve(found.stars, frame.width_px, frame.height_px, Hint((1100.0,)))
        if not isinstance(solution, Solution):
            print(f"field {field}: not solved")
            continue
        sight = Sight(frame, found, solution, 16.0, 2026.0)
        answer = redrawn_size("middle", redrawn(sight, (640.0, 410.0), 390.0, spot))
        own = math.sqrt(max(answer.log_err**2 - METHOD_LOG_ERR**2, 0.0))
        logs.append(answer.log_ratio)
        print(
            f"field {field}: {answer.stars} stars, ln(ratio) {answer.log_ratio:+.3f} +- {own:.3f}"
        )
    print(f"root mean square: {math.sqrt(float(np.mean(np.square(logs)))):.3f}")


if __name__ == "__main__":
    main()
