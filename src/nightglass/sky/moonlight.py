"""How bright the moon makes a clear sky, and what that costs.

Krisciunas & Schaefer 1991, PASP 103, 1033, DOI 10.1086/132921: good to 8 to 23 % by their own
comparison, for clear dry air, V band, and places more than about 10 degrees from the moon.
Twilight is not in it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from nightglass.light.defaults import EXTINCTION, SKY_BRIGHTNESS

Floats = NDArray[np.float64]

ACCURACY = "good to 8 to 23 % by the authors' own comparison; clear air; not near the moon"


@dataclass(frozen=True)
class MoonlitSky:
    """The sky at one place with the moon up."""

    dark_mag: float
    """Without the moon [mag per square arcsecond]."""
    moonlit_mag: float
    cost_stops: float
    """How many stops more exposure or frames the same faint star needs: log2 of the sky ratio."""


def sky_with_moon(
    altitude_degrees: float,
    moon_altitude_degrees: float,
    separation_degrees: float,
    phase_angle_degrees: float,
    dark_zenith_mag: float = SKY_BRIGHTNESS.value,
    extinction_mag: float = EXTINCTION.value,
) -> MoonlitSky:
    """Return the brightness of the sky at a place and what the moon costs there.

    phase_angle_degrees: 0 at full moon. A moon below the horizon adds nothing. Raises ValueError
    for a place below the horizon.
    """
    if altitude_degrees < 0:
        raise ValueError(
            f"altitude {altitude_degrees:g} is below the horizon; sky brightness needs 0 to 90"
        )
    zenith = 90.0 - altitude_degrees
    dark = float(dark_sky_nanolambert(zenith, dark_zenith_mag, extinction_mag))
    moon = 0.0
    if moon_altitude_degrees > 0:
        moon = float(
            moonlight_nanolambert(
                zenith,
                90.0 - moon_altitude_degrees,
                separation_degrees,
                phase_angle_degrees,
                extinction_mag,
            )
        )
    return MoonlitSky(
        dark_mag=float(mag_from_nanolambert(dark)),
        moonlit_mag=float(mag_from_nanolambert(dark + moon)),
        cost_stops=math.log2((dark + moon) / dark),
    )


def moonlight_nanolambert(
    zenith_degrees: ArrayLike,
    moon_zenith_degrees: ArrayLike,
    separation_degrees: ArrayLike,
    phase_angle_degrees: ArrayLike,
    extinction_mag: float = EXTINCTION.value,
) -> Floats:
    """Return the moon's share of the sky brightness [nanolambert]; shapes broadcast."""
    alpha = np.abs(np.asarray(phase_angle_degrees, dtype=np.float64))
    rho = np.asarray(separation_degrees, dtype=np.float64)
    moon_light = 10 ** (-0.4 * (3.84 + 0.026 * alpha + 4e-9 * alpha**4))  # equation 20
    rayleigh = 10**5.36 * (1.06 + np.cos(np.radians(rho)) ** 2)  # equation 17
    aerosol = 10 ** (6.15 - rho / 40.0)  # equation 18
    through = 10 ** (-0.4 * extinction_mag * sky_airmass(moon_zenith_degrees))
    scattered = 1 - 10 ** (-0.4 * extinction_mag * sky_airmass(zenith_degrees))
    return (rayleigh + aerosol) * moon_light * through * scattered  # equation 15


def dark_sky_nanolambert(
    zenith_degrees: ArrayLike,
    dark_zenith_mag: float = SKY_BRIGHTNESS.value,
    extinction_mag: float = EXTINCTION.value,
) -> Floats:
    """Return the moonless sky at a zenith angle [nanolambert]; equation 2 of the paper."""
    airmass = sky_airmass(zenith_degrees)
    at_zenith = nanolambert_from_mag(dark_zenith_mag)
    return at_zenith * 10 ** (-0.4 * extinction_mag * (airmass - 1)) * airmass


def moon_magnitude(phase_angle_degrees: ArrayLike) -> Floats:
    """Return the moon's V magnitude at a phase angle; Allen 1973, Astrophysical Quantities, 144."""
    alpha = np.abs(np.asarray(phase_angle_degrees, dtype=np.float64))
    return -12.73 + 0.026 * alpha + 4e-9 * alpha**4


def sky_airmass(zenith_degrees: ArrayLike) -> Floats:
    """Return the airmass of the scattering layer, 1 at the zenith; equation 3 of the paper."""
    sine = np.sin(np.radians(np.asarray(zenith_degrees, dtype=np.float64)))
    return (1 - 0.96 * sine**2) ** -0.5


def nanolambert_from_mag(mag_per_arcsec2: ArrayLike) -> Floats:
    """Return the brightness [nanolambert] of V magnitudes per square arcsecond; equation 1."""
    return 34.08 * np.exp(20.7233 - 0.92104 * np.asarray(mag_per_arcsec2, dtype=np.float64))


def mag_from_nanolambert(nanolambert: ArrayLike) -> Floats:
    """Return V magnitudes per square arcsecond of a brightness [nanolambert]."""
    return (20.7233 - np.log(np.asarray(nanolambert, dtype=np.float64) / 34.08)) / 0.92104
