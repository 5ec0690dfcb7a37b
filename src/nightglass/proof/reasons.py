"""Why a frame, a place or a prediction can't be compared, as records of codes and numbers."""

from __future__ import annotations

from dataclasses import dataclass

from nightglass.proof.codes import FrameReasonCode, PlaceReasonCode, PredictionReasonCode
from nightglass.sky.astrometry.solve import Unsolved
from nightglass.sky.photometry.codes import LimitSource
from nightglass.sky.zones.codes import ZoneReason


@dataclass(frozen=True)
class FrameReason:
    """Why nothing of a frame can be compared."""

    code: FrameReasonCode
    error: str = ""
    """What the reading or measuring step itself said; empty where the code says all."""
    unsolved: Unsolved | None = None
    """Why it could not be solved."""


@dataclass(frozen=True)
class PlaceReason:
    """Why the lens alone can't be compared at a place."""

    code: PlaceReasonCode
    at_most_px: float | None = None
    """Bound of a bench spot at limit."""
    zone_reason: ZoneReason | None = None
    """Why a zone of the sky was not measured, with the number of its stars."""
    zone_stars: int | None = None


@dataclass(frozen=True)
class PredictionReason:
    """Why one of light, limit, stars and glow can't be compared."""

    code: PredictionReasonCode
    limiting_from: LimitSource | None = None
    """Why the limit is not known."""
