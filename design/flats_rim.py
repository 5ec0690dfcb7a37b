"""How far off is the fit of a flat where a rim shades the corner, and does its error hold that?

    .venv/bin/python design/flats_rim.py

Two powers of the radius can't follow a hard edge: the scatter of the cells about the fit tells how
hard it is. Planted are losses that begin at a radius and reach a stop in the corner, and openings
that two round rims bound. Printed per case: how far the fit is off at four radii, in units of that
scatter, and over the stated error. What the constant should be: about one error off in the middle
of these cases, nowhere beyond two but where the edge stands in the last tenth of the field.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

import numpy as np

from nightglass.bench.flats.shading import fit_shading
from nightglass.light.falloff import FalloffSource, PupilFalloff
from nightglass.optics.arrays import Floats
from nightglass.scene.flats_plan import (
    F_NUMBERS,
    FIELD_BODY,
    FOCAL_MM,
    LINNET,
    SISKIN,
    pupil_share,
)

ROWS, COLUMNS, FINE = 8, 12, 20
RADII = (0.4, 0.6, 0.8, 1.0)
Stops = Callable[[Floats], Floats]


def edged(begins: float) -> Stops:
    """Return a loss that begins at a radius and is a stop in the corner."""
    return lambda radius: np.clip(radius - begins, 0, None) / (1 - begins)


def cases() -> Iterator[tuple[str, Stops]]:
    """Yield names and losses over the radius [stops]."""
    for begins in (0.4, 0.5, 0.6, 0.65, 0.7, 0.75, 0.8, 0.9):
        yield f"a stop from {begins} on", edged(begins)
    radii = np.linspace(0, 1, 200)
    for club in (SISKIN, LINNET):
        for n in F_NUMBERS:
            lost = np.array([-math.log2(pupil_share(club, n, float(r))) for r in radii])
            name = f"{club.lens.name}, f/{n:g}"
            yield name, lambda radius, lost=lost: np.interp(radius, radii, lost)


def cells(stops: Stops) -> Floats:
    """Return mean counts of the frame's cells behind such a lens."""
    half = math.hypot(FIELD_BODY.width_mm, FIELD_BODY.height_mm) / 2
    y, x = (
        ((np.arange(n * FINE) + 0.5) / (n * FINE) - 0.5) * side / half
        for n, side in ((ROWS, FIELD_BODY.height_mm), (COLUMNS, FIELD_BODY.width_mm))
    )
    radius = np.hypot(x[None, :], y[:, None])
    light = 2.0 ** -stops(radius) * np.cos(np.arctan(radius * half / FOCAL_MM)) ** 3
    return 9000 * light.reshape(ROWS, FINE, COLUMNS, FINE).mean(axis=(1, 3))


def main() -> None:
    """Print the table."""
    print("case                        off over scatter            off over stated error")
    for name, stops in cases():
        found = fit_shading(cells(stops), FIELD_BODY, SISKIN.lens, FOCAL_MM)
        fit = PupilFalloff(found.terms_mag, found.covariance, FalloffSource.FLAT)
        scatter = found.misfit_mag * 0.4 / math.log10(2)
        off = [float(fit.stops(r)) - float(stops(np.array(r))) for r in RADII]
        parts = "".join(f"{one / scatter:7.1f}" for one in off)
        errs = "".join(f"{one / fit.stops_err(r):7.1f}" for one, r in zip(off, RADII, strict=True))
        print(f"{name:26}{parts}  {errs}")


if __name__ == "__main__":
    main()
