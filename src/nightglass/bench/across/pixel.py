"""The pixel's own share of a spot's length, and how to take it out.

A length is the central 90 % of the light along the spot. Square pixels of pitch p add
PIXEL_SQUARES p^2 to its square: 3.29^2 / 12 = 0.90 p^2 for a Gaussian (the variance of an even
square is p^2 / 12), more for a spot with a sharp rim, less for one with wide wings. What a sensor's
cover glass and filters add is not known, and stays in.
"""

from __future__ import annotations

import math

PIXEL_SQUARES = 1.32
"""Squares of the pitch that square pixels add to the square of a length: the median over spots of
defocus, astigmatism, coma and spherical aberration (design/two_pitches.py)."""
PIXEL_SQUARES_ERR = 0.45
"""Its 1-sigma scatter from spot to spot (design/two_pitches.py). Both bodies show one spot, so
both share it."""
METHOD_PX = 0.10
"""1-sigma error of a mean length that more frames don't lessen [px] (design/two_pitches.py)."""


def without_pixel_um(length_um: float, pitch_um: float) -> float:
    """Return the length of a spot before the pixels widened it [um].

    Raises ValueError for a length that pixels of this pitch alone would make.
    """
    left = length_um**2 - PIXEL_SQUARES * pitch_um**2
    if not left > 0:
        raise ValueError(
            f"a length of {length_um:g} um is no more than pixels of {pitch_um:g} um make alone"
        )
    return math.sqrt(left)


def with_pixel_um(length_um: float, pitch_um: float) -> float:
    """Return the length of a spot that pixels have widened [um]; undoes without_pixel_um."""
    return math.sqrt(length_um**2 + PIXEL_SQUARES * pitch_um**2)
