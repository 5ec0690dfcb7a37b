"""Measures of a noiseless spot: the definitions that the measuring code and its truth share.

An image is (rows, columns), its samples `step_px` apart, the pixel's own blur already in it.
Lengths come back in raw pixels. Definitions: docs/glossary.md, "One star spot".
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Image = NDArray[np.float64]

APERTURE_LENGTHS = 1.5
"""Aperture radius over length_px."""
APERTURE_LEAST_PX = 5.0
RING_INNER, RING_OUTER = 1.2, 2.0
"""Background ring, in aperture radii."""
TAIL_SHARE = 0.05
"""Light left out on either side of a length."""


@dataclass(frozen=True)
class Extent:
    """Measures of one spot [px of the raw frame]; angles from +x toward +y, 0 to 180."""

    x_px: float
    y_px: float
    length_px: float
    width_px: float
    angle_degrees: float
    ee50_px: float
    ee80_px: float
    noise_area_px: float
    aperture_px: float
    flux: float
