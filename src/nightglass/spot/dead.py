"""Dead samples inside a spot: no light where everything around is bright.

A lens can leave a dark hole in a spot, a mirror lens does; but every pixel at its rim is partly
lit. Dead pixels have no rim: the samples beside them are as bright as if nothing were missing.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.ndimage import binary_dilation, label, median_filter

from nightglass.optics.arrays import Flags, Floats
from nightglass.optics.extent import MAD_TO_SIGMA
from nightglass.spot.patch import Patch

AROUND_PX = 9
"""Side of the window whose median says how bright a place should be: four fifths of it are light
where a block of 4 x 4 is dead."""
DARK_SHARE = 0.1
"""Of the light around: candidates."""
RIM_SHARE = 0.3
"""Of the rim's median: a sample of the rim under it is partly lit, and the hole the lens's own."""
CLEAR_SIGMA = 20.0
"""Of the light around over the noise, before anything is called missing."""
IMPOSSIBLE_SIGMA = 12.0
"""Under black: no light, not even none, reads so low."""
LEAST_SAMPLES, MOST_SAMPLES = 3, 36
EVERY_WAY = np.ones((3, 3), dtype=bool)
ROUNDS = 60


@dataclass(frozen=True)
class Mended:
    """A patch with its dead samples filled from around, and which they were."""

    patch: Patch
    dead: Flags


def without_dead(patch: Patch, inside: Flags) -> Mended:
    """Return the patch with dead samples filled from those around; inside: the aperture."""
    ground, sigma = _ground(patch)
    net = np.nan_to_num(patch.light - ground[patch.colour], nan=0.0)
    ratio = _ratios(patch, net, inside)
    scaled = net / ratio[patch.colour]
    spread = sigma / ratio[patch.colour]
    dead = inside & (patch.light < -IMPOSSIBLE_SIGMA * sigma)
    dead |= _holes(patch, scaled, spread, inside)
    if not dead.any():
        return Mended(patch, dead)
    filled = _filled(scaled, dead) * ratio[patch.colour] + ground[patch.colour]
    return Mended(replace(patch, light=np.where(dead, filled, patch.light)), dead)


def _ground(patch: Patch) -> tuple[Floats, float]:
    """Median per colour, and the noise of one sample, over the patch: most of it is sky."""
    ground = np.zeros(3)
    spread = []
    for c in range(3):
        mine = patch.light[(patch.colour == c) & np.isfinite(patch.light)]
        if mine.size:
            ground[c] = np.median(mine)
            spread.append(float(np.median(np.abs(mine - ground[c]))))
    return ground, max(MAD_TO_SIGMA * min(spread, default=0.0), 0.5)


def _ratios(patch: Patch, net: Floats, inside: Flags) -> Floats:
    """Mean light of each colour in the aperture, those without any at 1."""
    ratio = np.ones(3)
    for c in range(3):
        mine = net[inside & (patch.colour == c)]
        if mine.size and float(mine.mean()) > 0:
            ratio[c] = float(mine.mean())
    return ratio


def _holes(patch: Patch, scaled: Floats, spread: Floats, inside: Flags) -> Flags:
    around = median_filter(scaled, size=AROUND_PX, mode="nearest")
    dark = inside & (scaled < DARK_SHARE * around) & (around > CLEAR_SIGMA * spread)
    found = np.zeros_like(dark)
    if not dark.any():
        return found
    colours = np.unique(patch.pattern).size
    groups, count = label(dark, structure=EVERY_WAY)
    for k in range(1, count + 1):
        group = groups == k
        size = int(np.count_nonzero(group))
        # One colour alone may be dark where its light falls elsewhere: lateral colour.
        several = np.unique(patch.colour[group]).size >= min(2, colours)
        if not LEAST_SAMPLES <= size <= MOST_SAMPLES or not several:
            continue
        rim = scaled[binary_dilation(group, EVERY_WAY) & ~group]
        if rim.min() > RIM_SHARE * float(np.median(rim)):
            found |= group
    return found


def _filled(scaled: Floats, dead: Flags) -> Floats:
    """The light with dead samples at the mean of their neighbours, from the rim inward."""
    light = np.where(dead, float(np.median(scaled[binary_dilation(dead, EVERY_WAY) & ~dead])), scaled)
    for _ in range(ROUNDS):
        padded = np.pad(light, 1, mode="edge")
        mean = (padded[:-2, 1:-1] + padded[2:, 1:-1] + padded[1:-1, :-2] + padded[1:-1, 2:]) / 4
        light = np.where(dead, mean, light)
    return light
