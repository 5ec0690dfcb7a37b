"""What moonlight costs at a place in the sky: the published model held against a dark sky.

Krisciunas & Schaefer 1991, PASP 103, 1033, DOI 10.1086/132921 (formulas: nightglass.light). Clear
air, V band; within some 10 degrees of the moon and for a moon on the horizon the model is too
bright. Twilight is not in it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from nightglass.light.atmosphere import mag_from_nanolamberts, nanolamberts
from nightglass.light.defaults import EXTINCTION, SKY_BRIGHTNESS
from nightglass.light.moonlight import moonlight_nanolamberts
from nightglass.optics.arrays import Floats


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
    dark = float(dark_sky_nanolamberts(zenith, dark_zenith_mag, extinction_mag))
    moon = float(
        moonlight_nanolamberts(
            separation_degrees,
            zenith,
            90.0 - moon_altitude_degrees,
            phase_angle_degrees,
            extinction_mag,
        )
    )
    return MoonlitSky(
        dark_mag=float(mag_from_nanolamberts(dark)),
        moonlit_mag=float(mag_from_nanolamberts(dark + moon)),
        cost_stops=math.log2((dark + moon) / dark),
    )


def dark_sky_nanolamberts(
    zenith_degrees: ArrayLike,
    dark_zenith_mag: float = SKY_BRIGHTNESS.value,
    extinction_mag: float = EXTINCTION.value,
) -> Floats:
    """Return the moonless sky at a zenith angle [nanolambert]: the paper's equations 2 and 3."""
    sine = np.sin(np.radians(np.asarray(zenith_degrees, dtype=np.float64)))
    airmass = (1 - 0.96 * sine**2) ** -0.5
    return nanolamberts(dark_zenith_mag) * 10 ** (-0.4 * extinction_mag * (airmass - 1)) * airmass
