"""How smooth should the prediction be, and how do sums of a colour's samples scatter?

Run: python design/spot_rebuild.py [spots per size class]. Needs the test extra (GalSim).

Part 1 rebuilds drawn spots with their true ratios and offsets and prints the errors of length
and width for several smoothnesses, with all colours and with green alone. Found (300 spots):
green alone misses by 0.5 to 0.6 px (95 %) at 3 to 6 px on a Bayer mosaic and 0.6 to 0.9 px on a
6x6; filled from all colours by 0.3 px on either. 1.5 px is as good as any smoothness from 0.8 to
2.0 px, so 0.8 px serves as the other one with which it is compared.

Part 2 prints the scatter of ratios and offsets that come from sums of a colour's own samples.
Found: logarithm of a ratio about 0.75 / sqrt(A) (1 + 3 / A) on a Bayer mosaic, 1.0 / sqrt(A)
(1 + 3 / A) on a 6x6, A the noise area in px; an offset per axis about 0.21 L times that.
"""

from __future__ import annotations

import math
import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent.parent / "benchmarks"))

from drawn_spots import COLOURS, MOSAICS, Drawn, draw, expose

from nightglass.optics.extent import within
from nightglass.spot.patch import Patch, above_background, background, cut
from nightglass.spot.rebuild import DISTRUST, MARGIN, Ties, kernels, predict
from nightglass.spot.shape import distance

CLASSES_PX = ((3.0, 4.0), (4.0, 6.0), (6.0, 10.0), (10.0, 20.0))
SMOOTH_PX = (0.8, 1.2, 1.5, 2.0)
STEPS = 2


def true_ties(drawn: Drawn, centre: dict[str, tuple[float, float]], level: list[float]) -> Ties:
    """Return the ties that the frame was drawn with."""
    flux = np.array([drawn.truth[c].flux for c in COLOURS])
    offset = np.array([np.subtract(centre[c], centre["green"]) for c in COLOURS])
    return Ties(np.array(level) * flux / flux[1], offset, np.zeros(3))


def one(drawn: Drawn, rng: np.random.Generator, mosaic: str) -> tuple[dict, list[float], float]:
    """Return size errors per variant, errors of ratios and offsets, and the noise area."""
    exposed = expose(drawn, rng, mosaic)
    truth, (x, y) = drawn.truth["green"], exposed.centre_px["green"]
    radius = truth.aperture_px
    patch = cut(exposed.frame, x, y, math.ceil(2 * radius) + MARGIN + 2)
    net = above_background(patch, background(patch, x, y, radius), x, y)
    ties = true_ties(drawn, exposed.centre_px, [exposed.level[c] for c in COLOURS])
    errors = {}
    for smooth in SMOOTH_PX:
        for name, trust in (("all colours", 0.0), ("green alone", DISTRUST)):
            used = Ties(ties.ratio, ties.offset_px, np.array([trust, 0.0, trust]))
            image = predict(
                net / used.ratio[patch.colour],
                patch.places,
                kernels(patch.pattern, used, smooth, STEPS),
            )
            back = MARGIN - (STEPS - 1) / (2 * STEPS)
            at = (x - patch.left_px - back, y - patch.top_px - back)
            found = within(image, 1 / STEPS, *at, radius)
            errors[name, smooth] = [
                found.length_px - truth.length_px,
                found.width_px - truth.width_px,
            ]
    return errors, sums(patch, net, distance(patch, x, y) <= radius, ties), truth.noise_area_px


def sums(patch: Patch, net: np.ndarray, inside: np.ndarray, ties: Ties) -> list[float]:
    """Return log-ratio and offset errors of red and blue from their own samples."""
    level, centre = np.zeros(3), np.zeros((3, 2))
    for c in range(3):
        row, column = np.nonzero(inside & (patch.colour == c))
        light = net[row, column]
        level[c] = light.mean()
        centre[c] = (column @ light / light.sum(), row @ light / light.sum())
    out = []
    for c in (0, 2):
        out.append(math.log(max(level[c] / level[1], 1e-3) / ties.ratio[c]))
        out += list(centre[c] - centre[1] - ties.offset_px[c])
    return out


def main() -> None:
    """Draw, rebuild, print."""
    spots = int(sys.argv[1]) if len(sys.argv) > 1 else 20
    for mosaic in MOSAICS:
        for low, high in CLASSES_PX:
            found = []
            for number in range(spots):
                rng = np.random.default_rng([21, number])
                drawn = draw(rng, ("galsim", "nightglass")[number % 2], low, high)
                found.append(one(drawn, rng, mosaic))
            area = float(np.median([f[2] for f in found]))
            print(f"{mosaic}, {low:g} to {high:g} px, noise area {area:.0f} px")
            for variant in found[0][0]:
                e = np.abs(np.concatenate([f[0][variant] for f in found]))
                print(
                    f"   {variant[0]}, {variant[1]} px: 95 % within {np.quantile(e, 0.95):.2f} px"
                )
            scatter = np.array([f[1] for f in found])
            ratio = scatter[:, [0, 3]].std()
            offset = scatter[:, [1, 2, 4, 5]].std()
            print(f"   sums: log ratio {ratio:.2f}, offset {offset:.2f} px per axis")


if __name__ == "__main__":
    main()
