"""Values that stand in for what was not measured, each with its unit and source.

This is the only place where such values live: whoever uses one prints it beside the result.
"""

from __future__ import annotations

from dataclasses import dataclass

EARTH_ROTATION_RAD_S = 7.2921151e-5
"""Sidereal rate of the sky [rad/s]: Astronomical Almanac, constants (IAU 2009)."""


@dataclass(frozen=True)
class Default:
    """A default value: its name in words, its unit, and where it comes from."""

    name: str
    value: float
    unit: str
    source: str

    @property
    def text(self) -> str:
        """The value with its unit, as it is printed beside a result."""
        return f"{self.value:g} {self.unit}".strip()


ZERO_POINT = Default(
    "light of a star of magnitude V = 0",
    8.8e9,
    "photons per second and square metre",
    "Bessell 1979, 3640 Jy over a band of 0.16; between 8.75e9 and 8.99e9 by integration of Vega's "
    "spectrum (CALSPEC) over Bessell's V",
)
EFFICIENCY = Default(
    "efficiency of a green sample, filter included",
    0.5,
    "electrons per V photon",
    "our choice, no published peak of a camera was found: 0.45 times 1.15, as green bands are "
    "about 101 nm wide (Darrodi et al. 2015, DOI 10.1364/JOSAA.32.000381) and V 88 nm",
)
RED_SHARE = Default(
    "red samples against green ones under starlight",
    0.5,
    "times",
    "common practice: raw converters double red in daylight",
)
BLUE_SHARE = Default(
    "blue samples against green ones under starlight",
    0.6,
    "times",
    "common practice: raw converters lift blue by 1.5 to 1.8 in daylight",
)
TRANSMISSION = Default(
    "transmission of the lens",
    0.85,
    "of the light",
    "not measured, no T-stop: 0.85 +- 0.08, as T-stops are a sixth to a third of a stop slower "
    "than f-numbers (common practice)",
)
TRANSMISSION_ERR = 0.08
"""1-sigma uncertainty of the default transmission: a sixth to a third of a stop is 0.79 to 0.89."""
FALLOFF_ERR = 0.2
"""1-sigma uncertainty of the default falloff at the corner of the frame, toward darker only."""
SKY_BRIGHTNESS = Default(
    "brightness of the sky beside the Milky Way",
    21.6,
    "V magnitudes per square arcsecond",
    "dark site without moon: Patat 2003, A&A 400, 1183, DOI 10.1051/0004-6361:20030030",
)
MILKY_WAY_BRIGHTNESS = Default(
    "even light of the Milky Way, above the sky's",
    21.8,
    "V magnitudes per square arcsecond",
    "about 250 stars of magnitude 10 per square degree in its brightest parts: Cinzano 1997, "
    "Inquinamento luminoso e protezione del cielo notturno, chapter on natural sources (number "
    "read, its unit taken to be the S10 of Leinert et al. 1998, A&AS 127, 1, section 2)",
)
EXTINCTION = Default(
    "extinction of the air in V",
    0.2,
    "magnitudes per airmass",
    "common practice for a clear lowland night; 0.12 on mountains, 0.28 in haze",
)
AIRMASS = Default("airmass", 1.0, "", "one airmass for the whole frame: the zenith")
V_MINUS_G = Default(
    "V minus Gaia's G of the mean star",
    0.24,
    "magnitudes",
    "the shift that makes the catalogue's counts in G equal to counts in V-like magnitudes "
    "(Tycho-2 with UCAC4) from magnitude 5 to 10",
)
READ_NOISE = Default(
    "read noise per sample", 3.0, "electrons", "as the noise model of the JPEG XL reference "
    "library has it"
)  # fmt: skip
DETECTION_SNR = Default(
    "signal-to-noise of the faintest star counted", 5.0, "", "definition of `stars`, glossary"
)
TRAIL_LIMIT = Default(
    "longest trail at the frame centre on the equator",
    0.16828,
    "% of picture height",
    "common practice: 360 / focal length [mm] seconds on a sensor 15.6 mm high",
)
NOISE_OVER_BEST = Default(
    "how far the total noise of the working ISO may stand over the best step's",
    5.0,
    "%",
    "definition of the working ISO, glossary",
)

ALL_DEFAULTS: tuple[Default, ...] = (
    ZERO_POINT,
    EFFICIENCY,
    RED_SHARE,
    BLUE_SHARE,
    TRANSMISSION,
    SKY_BRIGHTNESS,
    MILKY_WAY_BRIGHTNESS,
    EXTINCTION,
    AIRMASS,
    V_MINUS_G,
    READ_NOISE,
    DETECTION_SNR,
    TRAIL_LIMIT,
    NOISE_OVER_BEST,
)
