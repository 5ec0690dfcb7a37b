"""How bright the moon makes the sky.

Krisciunas & Schaefer 1991, PASP 103, 1033, DOI 10.1086/132921 (equation numbers as the source of
specsim gives them, that of eq. 15 by another open library). For separations of 10 degrees and more:
nearer to the moon its glare in the air grows faster than written here.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from nightglass.light.atmosphere import mag_from_nanolamberts
from nightglass.optics.arrays import Floats

MODEL_ACCURACY_PERCENT = (8.0, 23.0)
"""Of the light, as the authors state it in their abstract."""


def moon_magnitude(phase_angle_degrees: ArrayLike) -> Floats:
    """Return the moon's V magnitude: -12.73 + 0.026 |a| + 4e-9 a^4, a = 0 at full moon.

    Allen 1973, Astrophysical Quantities, p. 144 (as quoted), used in eq. 9 of the model.
    """
    a = np.abs(np.asarray(phase_angle_degrees, dtype=np.float64))
    return -12.73 + 0.026 * a + 4e-9 * a**4


def moonlight_nanolamberts(
    separation_degrees: ArrayLike,
    zenith_angle_degrees: ArrayLike,
    moon_zenith_angle_degrees: ArrayLike,
    phase_angle_degrees: ArrayLike,
    extinction_mag_per_airmass: float,
) -> Floats:
    """Return the sky brightness that moonlight adds at a place of the sky [nanolambert].

    separation: place to moon; zenith angles of place and moon; phase angle 0 at full moon, all
    [degrees]. 0 with the moon under the horizon. Broadcast shape. Raises ValueError for a
    negative extinction.
    """
    if extinction_mag_per_airmass < 0:
        raise ValueError(
            f"extinction_mag_per_airmass is {extinction_mag_per_airmass:g}; it can't be negative"
        )
    rho = np.asarray(separation_degrees, dtype=np.float64)
    moon_z = np.asarray(moon_zenith_angle_degrees, dtype=np.float64)
    # Eq. 8 with eq. 9's magnitude: illuminance of the moon outside the air; eq. 21: scattering.
    illuminance = 10.0 ** (-0.4 * (moon_magnitude(phase_angle_degrees) + 16.57))
    rayleigh = 10.0**5.36 * (1.06 + np.cos(np.radians(rho)) ** 2)
    mie = 10.0 ** (6.15 - rho / 40)
    k = extinction_mag_per_airmass
    # Eq. 15: both on the way in and on the way to the eye.
    dimmed = 10.0 ** (-0.4 * k * _airmass(moon_z))
    gathered = 1 - 10.0 ** (-0.4 * k * _airmass(zenith_angle_degrees))
    return np.where(moon_z < 90, (rayleigh + mie) * illuminance * dimmed * gathered, 0.0)


def moonlight_mag(
    separation_degrees: ArrayLike,
    zenith_angle_degrees: ArrayLike,
    moon_zenith_angle_degrees: ArrayLike,
    phase_angle_degrees: ArrayLike,
    extinction_mag_per_airmass: float,
) -> Floats:
    """Return the same in V magnitudes per square arcsecond; inf with the moon down."""
    light = moonlight_nanolamberts(
        separation_degrees,
        zenith_angle_degrees,
        moon_zenith_angle_degrees,
        phase_angle_degrees,
        extinction_mag_per_airmass,
    )
    with np.errstate(divide="ignore"):
        return mag_from_nanolamberts(light)


def _airmass(zenith_angle_degrees: ArrayLike) -> Floats:
    """Eq. 3: airmass of the scattering air, finite at the horizon."""
    z = np.radians(np.asarray(zenith_angle_degrees, dtype=np.float64))
    return (1 - 0.96 * np.sin(z) ** 2) ** -0.5
