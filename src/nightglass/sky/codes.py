"""What is to be known of a whole frame of the sky, in codes; nightglass.show.sky words them."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from nightglass.sky.astrometry.codes import ASTROMETRY_CODES
from nightglass.sky.developed import DevelopedCode
from nightglass.sky.photometry.codes import PHOTOMETRY_CODES
from nightglass.sky.zones.codes import ZONE_CODES


class FrameNoteCode(StrEnum):
    """What is to be known of a frame, and what one shows that could not be solved."""

    NO_EXPOSURE = "no_exposure"
    FEW_HOT_PIXELS = "few_hot_pixels"
    CLIPPED = "clipped"
    FEW_POINTS = "few_points"
    TRAILS = "trails"
    DISCS = "discs"


@dataclass(frozen=True)
class FrameNote:
    """A code with its numbers; None are those that it does not have."""

    code: FrameNoteCode
    hot_pixels: int | None = None
    """Single bright samples,"""
    samples: int | None = None
    """among so many."""
    clipped_share: float | None = None
    """Of the frame's samples."""
    points: int | None = None
    """Points of light that stand out clearly."""
    length_px: float | None = None
    """Median of lines, or diameter of discs."""


ALL_CODES: tuple[type[StrEnum], ...] = (
    FrameNoteCode,
    DevelopedCode,
    *ASTROMETRY_CODES,
    *PHOTOMETRY_CODES,
    *ZONE_CODES,
)
"""Of a frame, and of all that is measured in it."""
