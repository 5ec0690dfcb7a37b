"""Which power of the f-number does blur fall with, and how often is a wrong one named?

Run: python design/stop_slopes.py [series]. About 5 minutes for 400 on an idle core.

Each series has one dominant term wide open, drawn as in spot_shapes.py (up to half of each other
term, six in ten pupils vignetted), that makes 10 to 40 px alone; four f-numbers a stop apart, three
repeats with a scatter of 5 %; the shape wide open counts too. Stopping down shrinks the pupil: each
term falls as theory has it and the vignetting rim moves out of the way. Lengths by the definition,
without noise.
"""

from __future__ import annotations

import math
import sys

import numpy as np
from spot_shapes import CLASS_OF, rays_length_um, term

from nightglass.bench.combined.combine import Repeats, combine
from nightglass.bench.combined.stamp import mean_stamp
from nightglass.bench.faults.shape import LEAST_LENGTH_PX as LEAST_SPOT_PX
from nightglass.bench.faults.shape import LEAST_WIDTH_PX, form_of, named_shape
from nightglass.bench.faults.stops import Cause, Stop, StopsFinding, stops_finding
from nightglass.optics.arrays import Floats32
from nightglass.optics.extent import extent
from nightglass.optics.wavefront import Pupil
from nightglass.scene.star import Star, fine_spot
from nightglass.spot.record import SpotImage

CAUSE_OF = {
    "defocus": Cause.FIRST_POWER,
    "astigmatism": Cause.FIRST_POWER,
    "coma": Cause.SECOND_POWER,
    "spherical": Cause.THIRD_POWER,
}
POWER_OF = {"defocus": 2, "astigmatism": 2, "coma": 3, "trefoil": 3, "spherical": 4}
"""Of the pupil's radius in the wavefront."""
SCATTER, REPEATS, STOPS = 0.05, 3, 4
LENGTHS_PX = (10.0, 40.0)


def series(dominant: str, rng: np.random.Generator) -> StopsFinding:
    """Return what is found in one series."""
    n, pitch = float(rng.choice([1.4, 2.0, 2.8])), float(rng.uniform(3.3, 6.1))
    azimuth = float(rng.uniform(0, 360))
    a = math.radians(azimuth)
    away = float(rng.uniform(0.2, 0.8)) if rng.random() < 0.6 else 0.0
    length_um = pitch * math.exp(rng.uniform(*(math.log(v) for v in LENGTHS_PX)))
    terms: dict[str, float] = {}
    for name in (*CLASS_OF, "trefoil"):
        share = 1.0 if name == dominant else float(rng.uniform(0, 0.5))
        share *= 0.5 if name == "trefoil" else 1.0
        if name != dominant and rng.random() < 0.35:
            share = 0.0
        cut = (away * math.cos(a), away * math.sin(a))
        one = rays_length_um(Pupil(n, term(name, 1.0, azimuth), cut, 1.05 if away else 1.0))
        terms[name] = float(rng.choice([-1, 1])) * share * length_um / one
    stops = []
    for k in range(STOPS):
        x = 2 ** (k / 2)
        zernikes: dict[int, float] = {}
        for name, w in terms.items():
            for j, value in term(name, w / x ** POWER_OF[name], azimuth).items():
                zernikes[j] = zernikes.get(j, 0.0) + value
        zernikes[2] = zernikes[3] = 0.0
        cut = (x * away * math.cos(a), x * away * math.sin(a))
        pupil = Pupil(n * x, zernikes, cut, 1.05 * x if away else 1.0)
        light = np.pad(fine_spot(Star(pupil, 200.3, 199.6), pitch, (1,)).on_pixels(1), 40)
        lengths = extent(light).length_px * np.exp(rng.normal(0, SCATTER, REPEATS))
        mean = combine(Repeats(tuple(lengths.tolist())))
        if mean.value is not None and mean.err is not None:
            shapes = _shapes(light) if k == 0 else {}
            stops.append(Stop(n * x, n * x, mean.value, mean.err / mean.value, shapes))
    return stops_finding(12.0, "corner", stops, pitch)


def _shapes(light: Floats32) -> dict[str, float]:
    """Return the probability of each class of the spot; nothing under the sizes that are named."""
    found = extent(light)
    if found.length_px < LEAST_SPOT_PX or found.width_px < LEAST_WIDTH_PX:
        return {}
    where = [(found.x_px, found.y_px)]
    stamp = mean_stamp([SpotImage(light, 0, 0)], where, [found.aperture_px])
    if stamp is None:
        return {}
    form = form_of(stamp.astype(np.float64), found.length_px)
    return dict(named_shape("", form).probabilities)


def main(count: int) -> None:
    """Print how many are named, and how many of these rightly."""
    total = np.zeros(4, dtype=int)
    for dominant in CLASS_OF:
        row = np.zeros(4, dtype=int)
        slopes = []
        for k in range(count // len(CLASS_OF)):
            found = series(dominant, np.random.default_rng([21, k, len(dominant)]))
            told = found.cause in CAUSE_OF.values()
            few = found.cause is Cause.TOO_FEW
            row += np.array([1, few, told, found.cause is CAUSE_OF[dominant]])
            if found.slope is not None:
                slopes.append(found.slope)
        low, middle, high = np.percentile(slopes, (10, 50, 90))
        print(f"{dominant:12} {row[0]} series, too few {row[1]}, named {row[2]}, rightly {row[3]}; "
              f"slope {middle:.2f} ({low:.2f} to {high:.2f} in 8 of 10)")  # fmt: skip
        total += row
    print(f"of series with enough f-numbers named {100 * total[2] / (total[0] - total[1]):.1f} %")
    print(f"of these right {100 * total[3] / total[2]:.1f} %")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 400)
