"""The light that a lens loses toward the corners, as the stars of one frame show it."""

from __future__ import annotations

from nightglass.light.falloff import PupilFalloff
from nightglass.sky.observe import Observation
from nightglass.sky.zones.field import read_field


def frame_falloff(seen: Observation) -> PupilFalloff | None:
    """Return the falloff of a frame's lens at its setting; None where its stars don't show it."""
    if seen.motion is None:
        return None
    found = read_field(seen.motion, seen.night, seen.frame.width_px, seen.frame.height_px).falloff
    return None if found is None else found.pupil
