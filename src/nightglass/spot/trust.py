"""What simulations showed about the method: its bias, its scatter, and where it ends.

Every number here comes from design/spot_trust.py, which draws spots, measures them and prints
these tables; docs/method.md says what was reached.
"""

from __future__ import annotations

import math

import numpy as np

LIMIT_PX = {("bayer", "green"): 3.0, ("6x6", "green"): 3.6, ("bayer", "other"): 4.3}
"""Length under which a spot is at limit (docs/glossary.md)."""
LIMIT_6X6_OTHER_PX = 5.0
"""Red and blue of a 6x6 mosaic: our own choice, two samples in nine pixels."""
LIMIT_FULL_PX = 2.2
"""Grey or already demosaiced: every pixel is a sample."""
AT_MOST_ERRORS = 2.1
"""Errors above the measured length at which the upper bound stands: true in 95 % of frames."""
LARGEST_POINT_BOUND_PX = 4.5
"""No bound of a spot that measures under the Bayer limit, or lies in one block, is higher."""

LENGTHS_PX = np.array([2.0, 3.0, 4.0, 6.0, 10.0, 20.0, 30.0, 45.0])
BIAS_PX = np.array([0.17, 0.17, 0.12, 0.07, 0.04, 0.02, 0.015, 0.01])
"""Measured minus true length and width: filling from moved colours widens a spot."""
BASE_PX = np.array([0.15, 0.15, 0.12, 0.09, 0.07, 0.085, 0.13, 0.18])
"""Scatter of length and width that the variations don't show."""
FULL_BASE = 0.3
"""Share of the base scatter that remains where every pixel is a sample."""
SCATTER_SCALE = 1.0
"""Scatter of the measures over their scatter under the variations."""


def limit_px(mosaic: str, colour: str) -> float:
    """Return the length [px] under which this colour is at limit on this mosaic."""
    if mosaic == "none":
        return LIMIT_FULL_PX
    if colour == "green":
        return LIMIT_PX[mosaic, "green"]
    return LIMIT_PX["bayer", "other"] if mosaic == "bayer" else LIMIT_6X6_OTHER_PX


def at_most_px(length_px: float, err_px: float, one_block: bool) -> float:
    """Return the 95 % upper bound [px] of a length or width that is at limit.

    one_block: the light lies in 2 x 2 pixels, whatever its measured length.
    """
    bound = max(length_px, 1.0) + AT_MOST_ERRORS * err_px
    if one_block or length_px < LIMIT_PX["bayer", "green"]:
        return min(bound, LARGEST_POINT_BOUND_PX)
    return bound


def bias_px(length_px: float, mosaic: str) -> float:
    """Return how much too large a length is measured, on average; 0 where nothing is filled."""
    return 0.0 if mosaic == "none" else float(np.interp(length_px, LENGTHS_PX, BIAS_PX))


def method_err(name: str, length_px: float, scatter: float, mosaic: str) -> float:
    """Return the 1-sigma error of the method for a measure, from its scatter under variations."""
    base = float(np.interp(length_px, LENGTHS_PX, BASE_PX)) * BASE_OF.get(name, 0.0)
    base *= FULL_BASE if mosaic == "none" else 1.0
    return math.hypot(base, SCATTER_SCALE * scatter)


BASE_OF = {
    "length_px": 1.0,
    "width_px": 1.0,
    "ee50_px": 0.8,
    "ee80_px": 0.8,
    "x_px": 0.5,
    "y_px": 0.5,
    "lean": 0.15,
    "angle_degrees": 6.0,
    "noise_area_px": 2.0,
}
"""Base scatter of the other measures, in their own unit per px of that of the length."""
