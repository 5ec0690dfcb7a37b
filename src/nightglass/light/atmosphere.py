"""What the air does to star light, and units of sky brightness."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from nightglass.light.defaults import AIRMASS, EXTINCTION
from nightglass.optics.arrays import Floats


def airmass_kasten_young1989(altitude_degrees: ArrayLike) -> Floats:
    """Return the relative airmass at an apparent altitude [degrees]; nan under the horizon.

    1 / (sin h + 0.50572 (h + 6.07995)^-1.6364). Kasten & Young 1989, Appl. Opt. 28, 4735,
    DOI 10.1364/AO.28.004735.
    """
    h = np.asarray(altitude_degrees, dtype=np.float64)
    up = np.where(h >= 0, h, np.nan)
    return 1 / (np.sin(np.radians(up)) + 0.50572 * (up + 6.07995) ** -1.6364)


def extinction_mag(
    airmass: ArrayLike = AIRMASS.value, mag_per_airmass: float = EXTINCTION.value
) -> Floats:
    """Return by how many magnitudes the air dims a star: extinction times airmass.

    Raises ValueError for a negative extinction.
    """
    if mag_per_airmass < 0:
        raise ValueError(f"mag_per_airmass is {mag_per_airmass:g}; air can't brighten a star")
    return mag_per_airmass * np.asarray(airmass, dtype=np.float64)


def luminance_cd_m2(mag_per_square_arcsec: ArrayLike) -> Floats:
    """Return luminance [cd/m^2] of a sky brightness: 10.8e4 x 10^(-0.4 m), the usual formula.

    It rests on 2.54e-6 lx for V = 0. Real skies differ by their spectrum: zero points of 1.18e5
    to 1.43e5 cd/m^2 in Bará et al. 2020, MNRAS 493, 2429, DOI 10.1093/mnras/staa323.
    """
    return 10.8e4 * 10.0 ** (-0.4 * np.asarray(mag_per_square_arcsec, dtype=np.float64))


def mag_from_luminance(cd_m2: ArrayLike) -> Floats:
    """Return the sky brightness [mag per square arcsec] of a luminance; inverse of the above."""
    return -2.5 * np.log10(np.asarray(cd_m2, dtype=np.float64) / 10.8e4)


def nanolamberts(mag_per_square_arcsec: ArrayLike) -> Floats:
    """Return a sky brightness in nanolamberts: 34.08 exp(20.7233 - 0.92104 m).

    Garstang 1989, PASP 101, 306, as used by Krisciunas & Schaefer 1991, PASP 103, 1033, eq. 1.
    """
    m = np.asarray(mag_per_square_arcsec, dtype=np.float64)
    return 34.08 * np.exp(20.7233 - 0.92104 * m)


def mag_from_nanolamberts(nanolambert: ArrayLike) -> Floats:
    """Return the sky brightness [mag per square arcsec] of nanolamberts; inverse of the above."""
    b = np.asarray(nanolambert, dtype=np.float64)
    return (20.7233 - np.log(b / 34.08)) / 0.92104


def tenth_magnitude_stars_per_square_degree(mag_per_square_arcsec: ArrayLike) -> Floats:
    """Return a sky brightness in S10: stars of magnitude 10 per square degree.

    1 S10 is 10 + 2.5 log10(3600^2) = 27.7815 mag per square arcsec.
    """
    m = np.asarray(mag_per_square_arcsec, dtype=np.float64)
    return 10.0 ** (-0.4 * (m - 10.0)) * 3600.0**2
