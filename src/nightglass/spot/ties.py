"""How the colours of one spot hang together: brightness ratios and offsets, with their errors.

Ratios and offsets come from each colour's own samples in the aperture. The sums of a sharp spot
scatter with its place on the mosaic; the less they can be trusted, the more the usual values of a
white source and a lens of little lateral colour count. The scatter was found by
design/spot_rebuild.py: about 0.75 / sqrt(A) (1 + 3 / A) for the logarithm of a ratio on a Bayer
mosaic, A the noise area in px, and 0.21 L times that per axis for an offset, L the length in px.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nightglass.optics.arrays import Flags, Floats
from nightglass.spot.patch import Patch
from nightglass.spot.rebuild import DISTRUST, Ties
from nightglass.spot.trust import limit_px

USUAL_RATIO, USUAL_SPREAD = 0.6, 0.35
"""Light of red or blue over green under a white LED, with its spread in natural logarithms."""
OFFSET_SPREAD_PX = 0.25
"""Spread per axis of the offsets between colours."""
SUM_SCATTER = {"bayer": 0.75, "6x6": 1.0, "none": 0.0}
OFFSET_OVER_RATIO = 0.21


@dataclass(frozen=True)
class KnownTies:
    """Ties with the 1-sigma errors that remain."""

    ties: Ties
    log_ratio_err: float
    offset_err_px: float
    seen_offset_px: Floats
    """(3, 2) centres (x, y) of the colours' own samples minus the target's, unweighed."""
    seen_offset_err_px: float


def mosaic_name(pattern: NDArray[np.uint8]) -> str:
    """Return "bayer", "6x6" or "none" for a pattern of colour numbers."""
    if len(np.unique(pattern)) == 1:
        return "none"
    return "6x6" if pattern.shape[0] % 3 == 0 else "bayer"


def usual_ratios(target: int) -> Floats:
    """Return (3,) light per pixel of each colour over the target's under a white source."""
    usual: Floats = np.array([USUAL_RATIO, 1.0, USUAL_RATIO])
    return usual / usual[target]


def fit_ties(
    patch: Patch,
    net: Floats,
    inside: Flags,
    target: int,
    length_px: float,
    noise_area_px: float,
    unused: tuple[int, ...] = (),
) -> KnownTies:
    """Return how the colours hang together with the target in the aperture.

    net: (rows, columns) light above background. inside: the aperture. unused: colours whose
    samples must not fill gaps.
    """
    level, centre = _sums(patch, net, inside)
    scatter = SUM_SCATTER[mosaic_name(patch.pattern)] / math.sqrt(noise_area_px)
    scatter *= 1 + 3 / noise_area_px
    prior = USUAL_SPREAD * (1.0 if target == 1 else math.sqrt(2))
    limit = limit_px(mosaic_name(patch.pattern), "green")
    # Under the limit the pattern rules where a colour is seen, not the spot's own length.
    offset_scatter = OFFSET_OVER_RATIO * max(length_px, limit) * scatter
    ratio_share = _share(prior, scatter)
    usual = usual_ratios(target)
    ratio, offset, trust = np.ones(3), np.zeros((3, 2)), np.zeros(3)
    seen_offset = centre - centre[target]
    for c in range(3):
        if c == target or not np.any(patch.pattern == c):
            continue
        if c in unused or level[c] <= 0 or level[target] <= 0:
            trust[c] = DISTRUST
            continue
        seen = math.log(max(level[c] / level[target], 1e-3) / usual[c])
        ratio[c] = usual[c] * math.exp(ratio_share * seen)
        # An offset far beyond its scatter is a lens's own, however large: then it is believed. Not
        # that of a point: its colours are seen where their next samples happen to stand.
        beyond2 = float(seen_offset[c] @ seen_offset[c]) / 2 - offset_scatter**2
        beyond2 = beyond2 if length_px >= limit else 0.0
        offset_share = _share(math.sqrt(max(OFFSET_SPREAD_PX**2, beyond2)), offset_scatter)
        offset[c] = np.clip(offset_share * seen_offset[c], -3.0, 3.0)
    return KnownTies(
        Ties(ratio, offset, trust),
        scatter * math.sqrt(ratio_share),
        offset_scatter * math.sqrt(_share(OFFSET_SPREAD_PX, offset_scatter)),
        seen_offset,
        offset_scatter,
    )


def _share(prior: float, scatter: float) -> float:
    return prior**2 / (prior**2 + scatter**2)


def _sums(patch: Patch, net: Floats, inside: Flags) -> tuple[Floats, Floats]:
    """Return mean light and centre (x, y) of each colour's own samples in the aperture."""
    level, centre = np.zeros(3), np.zeros((3, 2))
    for c in range(3):
        use = inside & (patch.colour == c)
        total = float(net[use].sum())
        if total > 0:
            level[c] = total / np.count_nonzero(use)
            row, column = np.nonzero(use)
            centre[c] = (column @ net[use] / total, row @ net[use] / total)
    return level, centre
