"""How many stars a square degree of the mean sky holds down to a magnitude in Gaia's G.

To G 9.5 the catalogue that comes with the program (Gaia DR3 with Hipparcos for the brightest),
counted over the whole sky; nightglass.sky.astrometry.catalogue holds the stars themselves and a
test counts them again. Beyond, counts in the combined Tycho-2 (Høg et al. 2000, A&A 355, L27) and
UCAC4 (Zacharias et al. 2013, AJ 145, 44, DOI 10.1088/0004-6256/145/2/44) catalogues over the whole
sky, read in a published table of totals down to each magnitude. Their magnitudes are V-like for
the bright stars and redder for the faint; the factor that makes both meet at 9.5 is CONTINUED_BY
and is kept to the end, where it may count up to a quarter too many.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from nightglass.light.photons import SQUARE_DEGREES_OF_SKY
from nightglass.optics.arrays import Floats

CATALOGUE_END_G = 9.5
CATALOGUE_TOTALS: dict[float, int] = {
    0.0: 6, 0.5: 12, 1.0: 18, 1.5: 25, 2.0: 65, 2.5: 117, 3.0: 220, 3.5: 389, 4.0: 704,
    4.5: 1276, 5.0: 2238, 5.5: 3912, 6.0: 6834, 6.5: 12189, 7.0: 21399, 7.5: 36733, 8.0: 62793,
    8.5: 106433, 9.0: 177496, 9.5: 294317,
}  # fmt: skip
"""Stars of the whole sky brighter than a magnitude G in the catalogue."""

CONTINUATION_TOTALS: dict[float, int] = {
    9.0: 139375, 10.0: 382925, 11.0: 1048084, 12.0: 2955951, 13.0: 7346735, 14.0: 17214116,
    15.0: 39387795, 16.0: 88896114,
}  # fmt: skip
"""Stars of the whole sky down to a magnitude in Tycho-2 and UCAC4 together."""

COUNTS_END_G = 16.0


def _continued_by() -> float:
    steps, totals = zip(*CONTINUATION_TOTALS.items(), strict=True)
    at_the_end = math.exp(np.interp(CATALOGUE_END_G, steps, np.log(totals)))
    return CATALOGUE_TOTALS[CATALOGUE_END_G] / at_the_end


CONTINUED_BY = _continued_by()
"""Factor on the continuation for the two to meet at G 9.5: 1.27."""

_STEPS = np.array([*CATALOGUE_TOTALS, *(g for g in CONTINUATION_TOTALS if g > CATALOGUE_END_G)])
_LOG_PER_DEGREE = np.log10(
    np.array(
        [
            *CATALOGUE_TOTALS.values(),
            *(n * CONTINUED_BY for g, n in CONTINUATION_TOTALS.items() if g > CATALOGUE_END_G),
        ]
    )
    / SQUARE_DEGREES_OF_SKY
)
_BRIGHT_SLOPE = 0.5
"""Dex per magnitude above G 0, where 6 stars of the whole sky say nothing better."""


def stars_per_square_degree(magnitude_g: ArrayLike) -> Floats:
    """Return how many stars brighter than G a square degree of the mean sky holds.

    Straight lines on log counts between the steps of the tables. Shape of magnitude_g. Raises
    ValueError beyond G 16, where the tables end.
    """
    g = np.asarray(magnitude_g, dtype=np.float64)
    if np.any(g > COUNTS_END_G):
        raise ValueError(
            f"magnitude_g is {np.max(g):g}; the star counts end at G {COUNTS_END_G:g}: shorten the "
            "exposure or check the pupil and the sky brightness"
        )
    bright = _LOG_PER_DEGREE[0] + _BRIGHT_SLOPE * (g - _STEPS[0])
    return 10.0 ** np.where(g < _STEPS[0], bright, np.interp(g, _STEPS, _LOG_PER_DEGREE))


def magnitude_g_at_count(per_square_degree: ArrayLike) -> Floats:
    """Return the magnitude G down to which a square degree holds so many stars; the inverse.

    Raises ValueError for counts of 0 or less, or beyond the end of the tables.
    """
    n = np.asarray(per_square_degree, dtype=np.float64)
    if np.any(n <= 0):
        raise ValueError(f"per_square_degree is {np.min(n):g}; a count of stars is above 0")
    log = np.log10(n)
    # One part in 1e9: the end of the table itself must not fall outside by rounding.
    if np.any(log > _LOG_PER_DEGREE[-1] + 1e-9):
        raise ValueError(
            f"per_square_degree is {np.max(n):g}; the star counts end at "
            f"{10 ** _LOG_PER_DEGREE[-1]:.0f} per square degree"
        )
    bright = _STEPS[0] + (log - _LOG_PER_DEGREE[0]) / _BRIGHT_SLOPE
    return np.where(log < _LOG_PER_DEGREE[0], bright, np.interp(log, _LOG_PER_DEGREE, _STEPS))
