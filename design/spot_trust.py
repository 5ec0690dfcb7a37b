"""Bias of the measured lengths, and the scatter that the variations don't show.

Run: python design/spot_trust.py [spots per size class]. Needs the test extra (GalSim).

Prints, per length, the median of measured minus true (with the bias table of spot/trust.py added
back) and the base scatter with which 68 % of the errors stay within one stated error. The tables
BIAS_PX and BASE_PX were read from such a run over 300 spots in 1,200 frames, colours and mosaics
together; the spots of tests/spot and of docs/spot_accuracy.md are drawn with other seeds.
"""

from __future__ import annotations

import math
import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent.parent / "benchmarks"))

from drawn_spots import MOSAICS, draw, expose
from spot_accuracy import Seen

from nightglass.spot.measure import measure_frame
from nightglass.spot.trust import bias_px, method_err

CLASSES_PX = ((3.0, 4.0), (4.0, 6.0), (6.0, 10.0), (10.0, 20.0), (20.0, 30.0), (30.0, 45.0))


def errors(low_px: float, high_px: float, spots: int) -> tuple[np.ndarray, np.ndarray]:
    """Return raw errors of length and width, and their stated errors without the base."""
    raw, stated = [], []
    for number in range(spots):
        rng = np.random.default_rng([31, number])
        drawn = draw(rng, ("galsim", "nightglass")[number % 2], low_px, high_px)
        truth = drawn.truth["green"]
        for mosaic in MOSAICS:
            exposed = expose(drawn, rng, mosaic)
            spot = next(s for s in measure_frame(exposed.frame).spots if s.colour == "green")
            seen = Seen(
                (mosaic, 0, ""),
                drawn.simulator,
                spot,
                truth.length_px,
                truth.width_px,
                truth.angle_degrees,
                exposed.centre_px["green"],
            )
            for error, sigma in seen.size_errors():
                base = method_err("length_px", truth.length_px, 0.0, mosaic)
                raw.append(error + bias_px(truth.length_px, mosaic))
                stated.append(math.sqrt(max(sigma**2 - base**2, 0.0)))
    return np.array(raw), np.array(stated)


def main() -> None:
    """Draw, measure, print."""
    spots = int(sys.argv[1]) if len(sys.argv) > 1 else 20
    for low, high in CLASSES_PX:
        raw, stated = errors(low, high, spots)
        bias = float(np.median(raw))
        bases = np.linspace(0, 0.6, 121)
        inside = [np.mean(np.abs(raw - bias) <= np.hypot(stated, b)) for b in bases]
        base = float(bases[int(np.argmax(np.array(inside) >= 0.68))])
        print(f"{low:g} to {high:g} px: bias {bias:+.3f} px, base scatter {base:.3f} px")


if __name__ == "__main__":
    main()
