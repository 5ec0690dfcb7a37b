"""How many stars of a crowded field are seen: not swallowed by brighter neighbours."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from nightglass.optics.arrays import Floats

SEEN_STAR_AREAS = 3.5
"""Area that a seen star takes for itself, in noise areas of the star as it is looked for: as
viewed, or after the filter that finds it in raw data (design/crowding.py).

From 1 to 60 noise areas a star the curve is within 6 % of what the finder gives back, mean of
bodies of 10, 24 and 60 Mpx. On single ones it misses 10 % twice, both at 1: 14 % high on 10 Mpx,
where spots are hardly wider than the mosaic's gaps, 16 % low on 60 Mpx. It reads 5 to 6 % high
where stars are lonely: there noise alone hides stars.
"""
MATCHED_WIDENS = 2.0
"""Noise area of a star after the filter that matches it, over its own (Gaussian)."""
CROWDED_SHARE = 1 / 3
"""Share lost to brighter neighbours above which a setting is limited by crowding."""


def share_seen(taken: ArrayLike) -> Floats:
    """Return the share of stars in random places that brighter ones leave: (1 - exp(-u)) / u.

    taken: u, stars per area x area that a seen star takes. Stars are laid down from the brightest
    to the faintest; each is seen if it falls outside what those before it took, which a share
    exp(-u) of the area is after a number u of them. The mean of exp(-u) from 0 to u is the answer.
    Raises ValueError for negative values.
    """
    u = np.asarray(taken, dtype=np.float64)
    if np.any(u < 0):
        raise ValueError(f"taken is {np.min(u):g}; an area over another can't be negative")
    small = np.maximum(u, 1e-12)
    return np.where(u > 1e-12, -np.expm1(-small) / small, 1.0)
