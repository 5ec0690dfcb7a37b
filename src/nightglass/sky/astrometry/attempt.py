"""The cameras that a search looked up before it knew the answer."""

from __future__ import annotations

from dataclasses import dataclass

from nightglass.optics.projection import Projection


@dataclass(frozen=True)
class Attempt:
    """One camera, with the number of stars whose patterns were looked up in its picture."""

    projection: Projection
    width_degrees: float
    pattern_stars: int
