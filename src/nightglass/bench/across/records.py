"""What two bodies say of one lens: codes and numbers; nightglass.show.bodies words them."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class BodiesVerdict(StrEnum):
    """What is left between two bodies once their pixels are taken out."""

    SAME = "same"
    LONGER = "longer"
    SHORTER = "shorter"
    AT_LIMIT = "at_limit"
    NO_REPEATS = "no_repeats"


class PairNote(StrEnum):
    """What to know of two places that are held against each other."""

    OTHER_SIDE = "other_side"
    SOURCES_DIFFER = "sources_differ"


class UnpairedReason(StrEnum):
    """Why a place of one body has no partner on another."""

    NOT_AT_THIS_HEIGHT = "not_at_this_height"
    OUTSIDE_THE_FRAME = "outside_the_frame"
    SETTING_NOT_MEASURED = "setting_not_measured"
    NO_SIZE = "no_size"


ALL_CODES: tuple[type[StrEnum], ...] = (BodiesVerdict, PairNote, UnpairedReason)


@dataclass(frozen=True)
class RatioInterval:
    """A ratio with its 95 % interval; None where the scatter of repeats is not known."""

    value: float
    low: float | None
    high: float | None

    @property
    def holds_one(self) -> bool:
        """Whether the interval holds 1; False without an interval."""
        return self.low is not None and self.high is not None and self.low <= 1 <= self.high

    @property
    def apart_percent(self) -> float | None:
        """How far from 1 the interval reaches [%]; None without an interval."""
        if self.low is None or self.high is None:
            return None
        return 100 * max(abs(self.low - 1), abs(self.high - 1))


@dataclass(frozen=True)
class SizeOnBody:
    """The length of a spot on one body, in its three units; None at limit."""

    body: str
    place: str
    x_mm: float
    y_mm: float
    """From the frame's centre, x to the right, y down."""
    frames: int
    length_px: float | None
    length_um: float | None
    length_percent: float | None
    """Of picture height."""
    length_err_px: float | None
    """1 sigma."""
    length_at_most_um: float | None
    """95 % upper bound at limit."""

    @property
    def height_mm(self) -> float:
        """Image height: distance from the frame's centre."""
        return float((self.x_mm**2 + self.y_mm**2) ** 0.5)


@dataclass(frozen=True)
class PlaceOnTwoBodies:
    """One setting of a lens at one image height, on two bodies."""

    lens: str
    focal_mm: float
    f_number: float
    one: SizeOnBody
    other: SizeOnBody
    apart_mm: float
    """Between the two places on the sensors."""
    verdict: BodiesVerdict
    ratio: RatioInterval | None = None
    """Micrometres on the other body over those on the one, as measured; None at limit."""
    from_pixels: float | None = None
    """The ratio that the pixels alone make."""
    from_pixels_err: float | None = None
    """1 sigma."""
    left: RatioInterval | None = None
    """The ratio with the pixels of both taken out."""
    notes: tuple[PairNote, ...] = ()


@dataclass(frozen=True)
class UnpairedPlace:
    """A place of one body that can't be compared with another body, and why."""

    lens: str
    focal_mm: float
    f_number: float
    body: str
    place: str
    height_mm: float
    other_body: str
    reason: UnpairedReason
    x_percent: float | None = None
    y_percent: float | None = None
    """Where a star at the same image height would stand in the other body's frame."""


@dataclass(frozen=True)
class BodiesReport:
    """Every lens that was measured on two bodies or more."""

    bodies: tuple[str, ...]
    pairs: tuple[PlaceOnTwoBodies, ...]
    unpaired: tuple[UnpairedPlace, ...]
    tolerance_mm: float
    """Places further apart on the sensors are not compared."""
    on_one_only: tuple[tuple[str, str], ...]
    """(lens, body) of lenses that one body alone measured."""
    refocused: bool
    """Whether every setting compared was focused anew for each frame."""
