"""The cells of several frames in one row: what is counted cell by cell is counted at once."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate, pairwise
from typing import TypeVar

import numpy as np

from nightglass.light.photons import LightPath
from nightglass.optics.arrays import Floats
from nightglass.verdict.frame_light import FrameLight

BARE = LightPath(1.0, 1.0, 1.0)
"""A pupil of 1 mm^2 without glass, every photon counted: what all frames' light is told by."""
FRAMES_AT_ONCE = 64
"""So many frames' cells stay in the processor's own memory."""

Case = TypeVar("Case")


@dataclass(frozen=True)
class Cells:
    """One value per cell, frame after frame; what a frame has once stands in all its cells."""

    frames: tuple[slice, ...]
    """Where the cells of each frame lie."""
    pixels: Floats
    pixel_solid_angle_sr: Floats
    pupil_falloff: Floats
    """Times what pupil and glass of its frame pass, over those of BARE."""
    sky_e: Floats
    glow_e: Floats
    read_noise_e: Floats
    exposure_s: Floats
    extinction_mag: Floats


def in_a_row(lights: Sequence[FrameLight]) -> Cells:
    """Return the cells of some frames, at least one."""
    sizes = [light.field_radius.size for light in lights]

    def once(values: Sequence[float]) -> Floats:
        return np.repeat(np.array(values, dtype=np.float64), sizes)

    bare = BARE.zero_magnitude_e_per_s
    through = [light.path.zero_magnitude_e_per_s / bare for light in lights]
    ends = accumulate(sizes, initial=0)
    return Cells(
        frames=tuple(slice(first, end) for first, end in pairwise(ends)),
        pixels=once([light.pixels for light in lights]),
        pixel_solid_angle_sr=np.concatenate([light.pixel_solid_angle_sr for light in lights]),
        pupil_falloff=np.concatenate([light.pupil_falloff for light in lights]) * once(through),
        sky_e=np.concatenate([light.sky_e for light in lights]),
        glow_e=np.concatenate([light.glow_e for light in lights]),
        read_noise_e=once([light.read_noise.electrons for light in lights]),
        exposure_s=once([light.exposure_s for light in lights]),
        extinction_mag=once([light.extinction_mag for light in lights]),
    )


def some_at_once(cases: Sequence[Case]) -> Iterator[Sequence[Case]]:
    """Return the cases, FRAMES_AT_ONCE at a time."""
    for first in range(0, len(cases), FRAMES_AT_ONCE):
        yield cases[first : first + FRAMES_AT_ONCE]
