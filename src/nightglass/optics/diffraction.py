"""The spot of a perfect round lens: Airy's pattern, and its transfer of contrast.

The pattern and its full width at half maximum are those of the documentation of astropy
(AiryDisk2D) and photutils (AiryDiskPSF), the light inside a circle that of prysm's source; every
number is worked out here. Sizes scale with wavelength times f-number.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike
from scipy.optimize import brentq
from scipy.special import j0, j1, jn_zeros

from nightglass.optics.arrays import Floats


def airy_intensity(radius_um: ArrayLike, wavelength_um: float, f_number: float) -> Floats:
    """Return the intensity over that in the centre at distances from it [um]: (2 J1(v) / v)^2."""
    v = _optical(radius_um, wavelength_um, f_number)
    small = np.abs(v) < 1e-8
    return np.where(small, 1.0, 2 * j1(v) / np.where(small, 1.0, v)) ** 2


def airy_energy(radius_um: ArrayLike, wavelength_um: float, f_number: float) -> Floats:
    """Return the share of all light inside a radius [um]: 1 - J0^2 - J1^2 (Rayleigh)."""
    v = _optical(radius_um, wavelength_um, f_number)
    return 1.0 - j0(v) ** 2 - j1(v) ** 2


def airy_fwhm_um(wavelength_um: float, f_number: float) -> float:
    """Return the full width at half of the peak [um]: 1.028994 lambda N."""
    _check(wavelength_um, f_number)
    v = brentq(lambda v: (2 * j1(v) / v) ** 2 - 0.5, 1.0, 2.5, xtol=1e-13)
    return 2 * v / math.pi * wavelength_um * f_number


def airy_dark_ring_um(ring: int, wavelength_um: float, f_number: float) -> float:
    """Return the radius of a dark ring [um], counted from 1; the first is 1.219670 lambda N.

    Raises ValueError for a ring under 1.
    """
    _check(wavelength_um, f_number)
    if ring < 1:
        raise ValueError(f"ring is {ring}; dark rings are counted from 1")
    return float(jn_zeros(1, ring)[-1]) / math.pi * wavelength_um * f_number


def airy_encircled_diameter_um(share: float, wavelength_um: float, f_number: float) -> float:
    """Return the diameter [um] of the circle that holds a share of all light, 0 to 0.98.

    Raises ValueError outside: the rings fade so slowly that the rest has no useful size.
    """
    _check(wavelength_um, f_number)
    if not 0 <= share <= 0.98:
        raise ValueError(f"share is {share:g}; give 0 to 0.98 of the light")
    v = brentq(lambda v: 1 - j0(v) ** 2 - j1(v) ** 2 - share, 0.0, 60.0, xtol=1e-13)
    return 2 * v / math.pi * wavelength_um * f_number


def perfect_mtf(cycles_per_mm: ArrayLike, wavelength_um: float, f_number: float) -> Floats:
    """Return the contrast that a perfect round lens passes at spatial frequencies [cycles/mm].

    (2 / pi)(acos s - s sqrt(1 - s^2)) with s = frequency over cutoff 1000 / (lambda N); 0 beyond.
    The formula as the documentation of opticks prints it (ideal optical MTF); it is equation 6-31,
    p. 120, of Goodman 1968, Introduction to Fourier Optics, by the documentation of Psychtoolbox.
    """
    _check(wavelength_um, f_number)
    cutoff = 1000 / (wavelength_um * f_number)
    s = np.clip(np.abs(np.asarray(cycles_per_mm, dtype=np.float64)) / cutoff, 0.0, 1.0)
    return 2 / math.pi * (np.arccos(s) - s * np.sqrt(1 - s * s))


def _optical(radius_um: ArrayLike, wavelength_um: float, f_number: float) -> Floats:
    _check(wavelength_um, f_number)
    return np.asarray(radius_um, dtype=np.float64) * (math.pi / (wavelength_um * f_number))


def _check(wavelength_um: float, f_number: float) -> None:
    if not wavelength_um > 0:
        raise ValueError(f"wavelength_um is {wavelength_um:g}; green light is 0.55")
    if not f_number > 0:
        raise ValueError(f"f_number is {f_number:g}; it must be above 0")
