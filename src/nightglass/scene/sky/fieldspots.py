"""Spots of a lens over the field, worked out from wavefronts that change over it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from nightglass.optics.arrays import Floats32
from nightglass.optics.extent import Extent, extent
from nightglass.optics.wavefront import Pupil, blurred, seidel, spot
from nightglass.sky.astrometry.camera import Camera

FINE = 4
"""Samples of a spot per pixel."""


@dataclass(frozen=True)
class LensSpots:
    """Spots over a grid of the frame: (rows, columns, samples, samples), FINE per pixel, sum 1.

    The pixel's own blur is in them; the light of the ideal image lies in the middle.
    """

    stamps: Floats32

    def truth(self, row: int, column: int) -> Extent:
        """Return the measures of the spot of one cell [px], without any trail."""
        stamp = self.stamps[row, column].astype(np.float64)
        return extent(stamp, step_px=1 / FINE)


@dataclass(frozen=True)
class Aberrations:
    """Wavefront terms [um] at the corner of the field; see optics.wavefront.seidel.

    Coma grows with the field radius, astigmatism and field curvature with its square.
    """

    defocus_um: float = 0.3
    spherical_um: float = 0.3
    coma_um: float = 2.0
    astigmatism_um: float = 1.5
    curvature_um: float = 1.0
    decentre_um: float = 0.0
    """Tilt of the image plane: defocus at the right edge, its opposite at the left."""


def lens_spots(
    camera: Camera,
    pitch_um: float,
    f_number: float,
    aberrations: Aberrations,
    grid: tuple[int, int] = (5, 7),
    size_px: int = 41,
) -> LensSpots:
    """Return the spots of a lens over a grid (rows, columns) of equal cells of the frame."""
    step = pitch_um / FINE
    finer = max(1, math.ceil(step / (0.5 * 0.53 * f_number)))
    samples = size_px * FINE
    stamps = np.empty((*grid, samples, samples), dtype=np.float32)
    for row in range(grid[0]):
        for column in range(grid[1]):
            x = ((column + 0.5) / grid[1] - 0.5) * camera.width_px
            y = ((row + 0.5) / grid[0] - 0.5) * camera.height_px
            r = math.hypot(x, y) / camera.half_diagonal_px
            a = aberrations
            terms = seidel(
                w020_um=a.defocus_um
                + a.curvature_um * r * r
                + a.decentre_um * 2 * x / camera.width_px,
                w040_um=a.spherical_um,
                w131_um=a.coma_um * r,
                w222_um=a.astigmatism_um * r * r,
                azimuth_degrees=math.degrees(math.atan2(y, x)),
            )
            light = spot(Pupil(f_number, terms), 0.53, step / finer, samples * finer)
            seen = blurred(light, step / finer, pitch_um)
            middle = seen.shape[0] // 2
            first = middle - (samples // 2) * finer
            picked = seen[first::finer, first::finer][:samples, :samples]
            stamps[row, column] = picked / picked.sum()
    return LensSpots(stamps)
