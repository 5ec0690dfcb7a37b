"""Records of sessions and of what ties them together."""

from __future__ import annotations

from dataclasses import dataclass

from nightglass.gear.lens import LensSetting


@dataclass(frozen=True)
class Change:
    """A relative change of the size, with its 1-sigma error."""

    percent: float
    err_percent: float
    told: bool
    """Whether its 95 % interval leaves out 0."""


@dataclass(frozen=True)
class SessionOnRecord:
    """One session: what it holds, and what drifted in it or differs from the first."""

    name: str
    """As typed, or the date of its first frame; "" holds the frames without a time."""
    frames: int
    hours: float | None
    """From the first frame to the last; None where no time is recorded."""
    distances_m: tuple[float, ...]
    """Of the source, as far as said."""
    reference: tuple[LensSetting, ...]
    """Settings that were visited again over the session: they show its drift."""
    drift: Change | None
    """Of the size from the first frame to the last; None where nothing shows it."""
    offset: Change | None
    """Of the size against the session named in `against`; None for that one, and where nothing
    ties them."""
    against: str | None
    tied: bool
    """Whether frames of one setting tie it to the bench's main session."""
    photon_percent: float | None
    """What noise alone leaves of the length of one frame, median."""
    visit_percent: float | None
    """Scatter from one visit of a setting to the next beyond that of repeats; None where it is
    not told from them, or nothing was visited again."""
