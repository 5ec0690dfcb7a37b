"""Exposure values: the additive system of photographic exposure.

Tv = -log2 t, Av = 2 log2 N, Sv = log2(S / 3.125), Ev = Av + Tv = Bv + Sv. ASA PH2.5-1960, as two
articles on the system quote it; Exif (CIPA DC-008) records these values. Times and f-numbers are
the exact ones behind marks.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from nightglass.optics.arrays import Floats


def time_value(exposure_s: ArrayLike) -> Floats:
    """Return Tv of exposure times [s]. Raises ValueError for 0 or less, as all of this file."""
    return -np.log2(_above_zero("exposure_s", exposure_s))


def exposure_from_time_value(tv: ArrayLike) -> Floats:
    """Return the exposure time [s] of Tv, as files record it."""
    return 2.0 ** -np.asarray(tv, dtype=np.float64)


def aperture_value(f_number: ArrayLike) -> Floats:
    """Return Av of f-numbers."""
    return 2 * np.log2(_above_zero("f_number", f_number))


def f_number_from_aperture_value(av: ArrayLike) -> Floats:
    """Return the f-number of Av, as files record it."""
    return 2.0 ** (np.asarray(av, dtype=np.float64) / 2)


def speed_value(iso: ArrayLike) -> Floats:
    """Return Sv of ISO speeds: log2(S / 3.125)."""
    return np.log2(_above_zero("iso", iso) / 3.125)


def exposure_value(f_number: ArrayLike, exposure_s: ArrayLike) -> Floats:
    """Return Ev of a pair: Av + Tv. At ISO 100 this is the "EV 100" of tables."""
    return aperture_value(f_number) + time_value(exposure_s)


def stops_between(light_a: ArrayLike, light_b: ArrayLike) -> Floats:
    """Return how many stops more light A has than B: log2(A / B), negative for less."""
    return np.log2(_above_zero("light_a", light_a) / _above_zero("light_b", light_b))


def _above_zero(name: str, value: ArrayLike) -> Floats:
    values = np.asarray(value, dtype=np.float64)
    if not np.all(values > 0):
        raise ValueError(f"{name} is {np.min(values):g}; it must be above 0")
    return values
