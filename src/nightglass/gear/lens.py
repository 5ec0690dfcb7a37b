"""A lens as the bag describes it, and one setting of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

ProjectionName = Literal["rectilinear", "equidistant", "equisolid", "stereographic"]


@dataclass(frozen=True)
class Lens:
    """One copy of a lens; None is "not recorded"."""

    name: str
    focal_mm_min: float
    focal_mm_max: float
    f_number_min_wide: float
    """Marked f-number wide open at the short end."""
    f_number_min_long: float
    """Marked f-number wide open at the long end (the same for a fixed focal length)."""
    serial: str | None = None
    recorded_as: tuple[str, ...] = ()
    """Names under which cameras record this lens in their files."""
    projection: ProjectionName = "rectilinear"
    transmission: float | None = None
    """Measured share of the light that passes, 0 to 1."""
    t_stop: float | None = None
    notes: str = ""
    focus: str = ""
    """How to focus it on the night, in the person's words, for the card."""

    @property
    def is_zoom(self) -> bool:
        """Whether the focal length can be changed."""
        return self.focal_mm_max > self.focal_mm_min


@dataclass(frozen=True, order=True)
class LensSetting:
    """What is ranked: a body, a lens, a focal length and an f-number."""

    body: str
    lens: str
    focal_mm: float
    f_number: float
    """As marked; light is worked out from the exact power behind the mark."""
