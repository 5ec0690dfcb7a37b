"""The verdict on settings: what charts, tables and cards show."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Literal

from nightglass.gear.lens import LensSetting

Release = Literal["dial", "remote"]


class NoteCode(StrEnum):
    """What a reader must know of a setting, or why it was not ranked."""

    FROM_BENCH = "from_bench"
    AT_LIMIT = "at_limit"
    AT_LIMIT_IN_PLACES = "at_limit_in_places"
    ONE_REPEAT = "one_repeat"
    PLACES_WITHOUT_SIZE = "places_without_size"
    FRAME_PARTLY_UNTESTED = "frame_partly_untested"
    BEYOND_STAR_COUNTS = "beyond_star_counts"
    LENS_NOT_IN_BENCH_FILE = "lens_not_in_bench_file"
    OTHER_BODY = "other_body"
    NO_SIZE_ANYWHERE = "no_size_anywhere"
    NOT_TESTED = "not_tested"


@dataclass(frozen=True)
class Note:
    """A code with its numbers and names; nightglass.show.ranking.note_words makes the sentence."""

    code: NoteCode
    values: Mapping[str, float | str | tuple[str, ...]] = field(default_factory=dict)


@dataclass(frozen=True)
class NotRanked:
    """A lens, or one setting of it, that could not be judged, and why."""

    lens: str
    reason: Note
    focal_mm: float | None = None
    f_number: float | None = None
    """None where the whole lens was not judged."""


@dataclass(frozen=True)
class Interval:
    """A value with its 95 % interval; low and high are None where the spread is not known."""

    value: float
    low: float | None
    high: float | None


@dataclass(frozen=True)
class Assumption:
    """A default or a choice that entered the result, as printed beside it."""

    name: str
    value: str
    source: str


@dataclass(frozen=True)
class Times:
    """Longest times under the chosen rule [s]; dial times carry the mark and the true power."""

    limit_s: float
    remote_s: float
    dial_marked_s: float
    dial_true_s: float
    dial_gain_stops: float
    """Light of the dial time over the limit, signed: negative costs light, positive gains."""


@dataclass(frozen=True)
class Worth:
    """What one setting is worth, compared at its longest allowed time."""

    setting: LensSetting
    times: Times
    exposure_s: float
    release: Release
    iso: int | None
    factors: Mapping[str, float]
    """Values of the score's factors by code, in the order of verdict.factors.FACTORS."""
    stars_lost_to_cap: float
    lens_tightness_percent: float
    lens_tightness_percent_err: float | None
    worst_place: str
    tightness_percent: float
    trail_percent: float
    at_limit: bool
    eligible: bool
    score: Interval
    places_measured: tuple[str, ...]
    notes: tuple[Note, ...] = ()
    tightness_interval: Interval | None = None
    """lens_tightness_percent with its 95 % interval; None at limit and where nothing is known."""


@dataclass(frozen=True)
class Standing:
    """A lens in the ranking: its best setting and where it stands."""

    place: int
    worth: Worth
    over_limit: bool
    """True if no setting of the lens meets the limit: its tightest one stands here."""
    gain_over_next_percent: Interval | None
    """Over the lens named in next_lower; None for the last and where that one is over the limit
    (its place rests on tightness, not on score)."""
    next_lower: str | None
    tied_with: tuple[str, ...]


@dataclass(frozen=True)
class OrderHolds:
    """How often the order of the lenses stays, over resampled repeats, weights and limits."""

    first_place_share: float
    whole_order_share: float
    trials: int
    tried_weights: Mapping[str, tuple[float, float]]
    """The ends of each factor's weight by code; all factors share one draw."""
    limit_least_percent: float
    limit_most_percent: float


@dataclass(frozen=True)
class ZoomJump:
    """A zoom position whose blur stands out against those beside it."""

    lens: str
    focal_mm: float
    place: str
    """Where, and below at which f-number, it stands out most."""
    f_number: float
    ratio: float
    """Its length over the longer of its neighbours."""
    ratio_err: float


@dataclass(frozen=True)
class Ranking:
    """The whole verdict."""

    standings: tuple[Standing, ...]
    worths: tuple[Worth, ...]
    """Every measured setting."""
    unbeaten: tuple[Worth, ...]
    """Settings that no other beats in both light and tightness."""
    reference: LensSetting | None
    limit_percent: float
    limit_purpose: str
    order_holds: OrderHolds | None
    assumptions: tuple[Assumption, ...]
    not_ranked: tuple[NotRanked, ...]
    jumps: tuple[ZoomJump, ...] = ()
    """Zoom positions to be warned of, by lens and focal length."""

    def jumps_of(self, lens: str) -> dict[float, ZoomJump]:
        """Return the jumps of a lens by focal length [mm]."""
        return {jump.focal_mm: jump for jump in self.jumps if jump.lens == lens}
