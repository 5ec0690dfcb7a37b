"""What the bench has to say of a setting, in codes; nightglass.show.ranking words them."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class BenchNoteCode(StrEnum):
    """What is to be known of how a setting was measured."""

    BODY_ASSUMED = "body_assumed"
    LARGE_SOURCE = "large_source"
    SESSION_DRIFTED = "session_drifted"
    SESSION_OFFSET = "session_offset"
    SESSION_NOT_TIED = "session_not_tied"


@dataclass(frozen=True)
class BenchNote:
    """A code with what belongs to it; None is what it does not have."""

    code: BenchNoteCode
    body: str | None = None
    """Taken for the one of frames that record none."""
    source_px: float | None = None
    """Width of the light source's own image."""
    session: str | None = None
    against: str | None = None
    """The session that it was held against."""
    hours: float | None = None
    """How long the session lasted."""
    percent: float | None = None
    """Relative change of the size."""
    err_percent: float | None = None
