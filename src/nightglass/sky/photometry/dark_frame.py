"""What a dark frame shows of single bright samples; frames that hold light are refused."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from nightglass.frame.record import Frame
from nightglass.optics.arrays import Flags, Floats, Floats32, Indices
from nightglass.sky.stars.background import SkyLevel, sky_level

BRIGHT_SIGMA = 8.0
"""Deviations above the dark level from which a sample counts as bright."""
ALONE_SIGMA = 5.0
"""Above its brightest neighbour, from which a bright sample stands alone."""
CLUMP_SIGMA, CLUMP_NEIGHBOURS, CLUMP_SHARE, LEAST_CLUMPS = 20.0, 3, 0.3, 10
"""A frame holds light where this share of the samples above so many deviations have so many of
their eight neighbours above ALONE_SIGMA. Drawn dark frames reach 2 % with one sample in twelve
hot, the demo's frames of the night sky 85 % and more
(tests/sky/photometry/test_photometry_dark_frame.py)."""
COLOUR_SIGMA, COLOUR_SHARE = 1.0, 0.2
"""Light has unlike levels in the mosaic's colours, the dark has not: this far apart in deviations
and as a share of the level."""
CROPS, CROP_HALF_PX = 6, 5


@dataclass(frozen=True)
class DarkSamples:
    """The bright samples of one dark frame [deviations above its dark level]."""

    mode: str | None
    exposure_s: float | None
    sensor: tuple[str | None, int | None]
    """Body and ISO."""
    value: Floats
    neighbour: Floats
    equal: Flags
    """Whether a sample equals one of its neighbours."""
    crops: tuple[Floats32, ...]


def dark_samples(dark: Frame) -> DarkSamples:
    """Return the bright samples of a dark frame with their brightest neighbours.

    Raises ValueError for a frame that holds light (its level rises above the noise by more than a
    dark frame's does, its colours differ in level, its bright samples come in clumps as stars do)
    and for a file without a mosaic.
    """
    if dark.kind != "mosaic":
        raise ValueError(
            f"{dark.file}: only a raw mosaic tells of filtering; this is a {dark.kind}"
        )
    sky = sky_level(dark)
    level, noise = float(np.nanmedian(sky.level)), float(np.nanmedian(sky.noise))
    black = float(np.mean(dark.black))
    samples = dark.samples.astype(np.float32) - np.float32(level + black)
    _refuse_light(dark, sky, samples)
    rows, columns = np.nonzero(samples[2:-2, 2:-2] > BRIGHT_SIGMA * noise)
    rows, columns = rows + 2, columns + 2
    own = samples[rows, columns]
    around = np.full(own.size, -np.inf, dtype=np.float32)
    same = np.full(own.size, -np.inf, dtype=np.float32)
    p, q = dark.pattern.shape
    colour = dark.pattern[rows % p, columns % q]
    for dy, dx in _ring(2):
        there = samples[rows + dy, columns + dx]
        around = np.maximum(around, there)
        alike = dark.pattern[(rows + dy) % p, (columns + dx) % q] == colour
        same = np.where(alike, np.maximum(same, there), same)
    known = dark.metadata
    return DarkSamples(
        mode=known.exposure_mode or None,
        exposure_s=known.exposure_true_s,
        sensor=(known.body, known.iso),
        value=(own / noise).astype(np.float64),
        neighbour=(around / noise).astype(np.float64),
        equal=(own == same) | (own == around),
        crops=_crops(samples / np.float32(noise), rows, columns),
    )


def _refuse_light(dark: Frame, sky: SkyLevel, samples: Floats32) -> None:
    """Raise ValueError for a frame that holds light; samples: counts above its level."""
    level, noise = float(np.nanmedian(sky.level)), float(np.nanmedian(sky.noise))
    if level > 20 * noise + 0.05 * float(np.min(dark.clipping)):
        raise ValueError(
            f"{dark.file}: level {level:.0f} counts above black; this is no dark frame: cap on, "
            "eyepiece covered"
        )
    colours = np.nanmedian(sky.level[..., np.unique(dark.pattern)], axis=(0, 1))
    apart = float(np.ptp(colours))
    if apart > max(COLOUR_SIGMA * noise, COLOUR_SHARE * level):
        levels = " and ".join(f"{value:.0f}" for value in (colours.min(), colours.max()))
        raise ValueError(
            f"{dark.file}: its colours lie {levels} counts above black, as light's do; this is no "
            "dark frame: take dark frames with the cap on and the eyepiece covered"
        )
    rows, columns = np.nonzero(samples[1:-1, 1:-1] > CLUMP_SIGMA * noise)
    near = np.zeros(rows.size, dtype=np.intp)
    for dy, dx in _ring(1):
        near += samples[rows + 1 + dy, columns + 1 + dx] > ALONE_SIGMA * noise
    clumps = int(np.count_nonzero(near >= CLUMP_NEIGHBOURS))
    if clumps >= LEAST_CLUMPS and clumps > CLUMP_SHARE * rows.size:
        raise ValueError(
            f"{dark.file}: its bright samples lie in clumps, as stars do, not alone as hot pixels; "
            "this is no dark frame: take dark frames with the cap on and the eyepiece covered"
        )


def _ring(reach: int) -> Iterable[tuple[int, int]]:
    """All places (dy, dx) up to reach away, without the middle."""
    side = range(-reach, reach + 1)
    return ((dy, dx) for dy in side for dx in side if (dy, dx) != (0, 0))


def _crops(samples: Floats32, rows: Indices, columns: Indices) -> tuple[Floats32, ...]:
    """A few bright samples with their surroundings, from the brightest to the median one."""
    half = CROP_HALF_PX
    inside = (rows >= half) & (rows < samples.shape[0] - half)
    inside &= (columns >= half) & (columns < samples.shape[1] - half)
    rows, columns = rows[inside], columns[inside]
    order = np.argsort(-samples[rows, columns], kind="stable")
    picked = np.unique(np.linspace(0, order.size // 2, CROPS).astype(int))
    return tuple(
        samples[r - half : r + half + 1, c - half : c + half + 1].copy()
        for r, c in ((rows[k], columns[k]) for k in order[picked[picked < order.size]])
    )
