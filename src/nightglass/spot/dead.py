"""Dead samples inside a spot: no light where everything around is bright.

A lens can leave a dark hole in a spot, a mirror lens does; but every pixel at its rim is partly
lit. Dead pixels have no rim: the samples beside them are as bright as if nothing were missing. What
tells them apart was chosen by design/dead_pixels.py.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import binary_dilation, grey_closing, label

from nightglass.optics.arrays import Flags, Floats
from nightglass.optics.extent import MAD_TO_SIGMA
from nightglass.spot.blocks import ROOM, dark_blocks
from nightglass.spot.patch import Patch

GAP_PX, RIM_GAP_PX = 5, 7
"""A gap narrower than this is bridged from both its sides: a block of 4 x 4, and with its rim."""
DARK_SHARE = 0.05
"""Of the light that bridges the gap: candidates. A dead sample reads none at all."""
RIM_SHARE = 0.4
"""Of the light that bridges gap and rim: a sample of the rim under it is partly lit, and the hole
the lens's own."""
RIM_FROM = 0.1
"""Of the rim's brightest sample: what is dimmer has no say."""
RIM_OVER_NEXT = 0.8
"""Mean light of the rim over that of the samples behind it; a hole of the lens's own dims it."""
CLEAR_SIGMA = 20.0
"""Of the light around over the noise, before anything is called missing."""
IMPOSSIBLE_SIGMA = 12.0
"""Under black: no light, not even none, reads so low."""
LEAST_SAMPLES, MOST_SAMPLES = 4, 36
EVERY_WAY = np.ones((3, 3), dtype=bool)
Colours = NDArray[np.uint8]
ROUNDS = 60


@dataclass(frozen=True)
class Mended:
    """A patch with its dead samples filled from around, and which they were."""

    patch: Patch
    dead: Flags
    dead_share: float = 0.0
    """Of the light in the aperture, what was filled in."""


def without_dead(patch: Patch, inside: Flags) -> Mended:
    """Return the patch with dead samples filled from those around; inside: the aperture."""
    ground, sigma = _ground(patch)
    part = _around(inside)
    colour, light, near = patch.colour[part], patch.light[part], inside[part]
    net = np.nan_to_num(light - ground[colour], nan=0.0)
    ratio = _ratios(colour, net, near)
    scaled, spread = net / ratio[colour], sigma / ratio[colour]
    found = near & (light < -IMPOSSIBLE_SIGMA * sigma)
    found |= _holes(patch.pattern, colour, scaled, spread, near)
    found |= dark_blocks(scaled, spread, near)
    dead = np.zeros_like(inside)
    dead[part] = found
    if not found.any():
        return Mended(patch, dead)
    filled = _filled(scaled, found)
    share = float(filled[found].sum() / max(filled[near].sum(), filled[found].sum(), 1e-9))
    whole = patch.light.copy()
    whole[part] = np.where(found, filled * ratio[colour] + ground[colour], light)
    return Mended(replace(patch, light=whole), dead, share)


def _around(inside: Flags) -> tuple[slice, slice]:
    """The part of a patch in which anything is looked for: the aperture, with room around it."""
    rows, columns = (np.nonzero(inside.any(axis=axis))[0] for axis in (1, 0))
    if not rows.size:
        return slice(None), slice(None)
    down, right = (slice(max(v[0] - ROOM, 0), v[-1] + ROOM + 1) for v in (rows, columns))
    return down, right


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


def _ratios(colour: Colours, net: Floats, inside: Flags) -> Floats:
    """Mean light of each colour in the aperture, those without any at 1."""
    ratio = np.ones(3)
    for c in range(3):
        mine = net[inside & (colour == c)]
        if mine.size and float(mine.mean()) > 0:
            ratio[c] = float(mine.mean())
    return ratio


def _holes(
    pattern: Colours, colour: Colours, scaled: Floats, spread: Floats, inside: Flags
) -> Flags:
    around = _bridged(scaled, GAP_PX)
    dark = inside & (scaled < DARK_SHARE * around) & (around > CLEAR_SIGMA * spread)
    found = np.zeros_like(dark)
    if not dark.any():
        return found
    wider = _bridged(scaled, RIM_GAP_PX)
    colours = np.unique(pattern).size
    groups, count = label(dark, structure=EVERY_WAY)
    for k in range(1, count + 1):
        group = groups == k
        size = int(np.count_nonzero(group))
        # One colour alone may be dark where its light falls elsewhere: lateral colour.
        several = np.unique(colour[group]).size >= min(2, colours)
        if not LEAST_SAMPLES <= size <= MOST_SAMPLES or not several:
            continue
        grown = binary_dilation(group, EVERY_WAY)
        rim, behind = grown & ~group, binary_dilation(grown, EVERY_WAY) & ~grown
        # In the foot of the spot noise and missing light look alike: there nothing is told.
        told = rim & (wider > RIM_FROM * float(scaled[rim].max()))
        lit = np.all(scaled[told] > RIM_SHARE * wider[told])
        if lit and scaled[rim].mean() > RIM_OVER_NEXT * scaled[behind].mean():
            found |= group
    return found


def _bridged(light: Floats, gap_px: int) -> Floats:
    """The light with every dark gap narrower than gap_px, along rows or columns, bridged."""
    across, down = (grey_closing(light, size=size) for size in ((1, gap_px), (gap_px, 1)))
    bridged: Floats = np.maximum(across, down)
    return bridged


def _filled(scaled: Floats, dead: Flags) -> Floats:
    """The light with dead samples at the mean of their neighbours, from the rim inward."""
    light = np.where(
        dead, float(np.median(scaled[binary_dilation(dead, EVERY_WAY) & ~dead])), scaled
    )
    for _ in range(ROUNDS):
        padded = np.pad(light, 1, mode="edge")
        mean = (padded[:-2, 1:-1] + padded[2:, 1:-1] + padded[1:-1, :-2] + padded[1:-1, 2:]) / 4
        light = np.where(dead, mean, light)
    return light
