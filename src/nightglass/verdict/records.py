"""The verdict on settings: what charts, tables and cards show."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from nightglass.bench.faults.copies import CopyFinding
from nightglass.bench.sessions.records import SessionOnRecord
from nightglass.gear.benchfile import HoldsAt, LimitChoice
from nightglass.gear.lens import LensSetting
from nightglass.light.falloff import FalloffSource, PupilFalloff
from nightglass.light.iso import WorkingIso
from nightglass.verdict.codes import Assumption, LossReason, Note, NotRanked, NotTested
from nightglass.verdict.question import Question
from nightglass.verdict.view.eye import Eye
from nightglass.verdict.view.look import Look

Release = Literal["dial", "remote"]
VISIBLE_GAIN_PERCENT = 100 * (2 ** (1 / 3) - 1)
"""A gain under a third of a stop (26 %) is hardly visible (common practice)."""


@dataclass(frozen=True)
class Interval:
    """A value with its 95 % interval; low and high are None where the spread is not known."""

    value: float
    low: float | None
    high: float | None


@dataclass(frozen=True)
class Times:
    """Longest times under the chosen rule [s]; dial times carry the mark and the true power."""

    limit_s: float
    remote_s: float
    dial_marked_s: float
    dial_true_s: float
    dial_gain_stops: float
    """Light of the dial time over the limit, signed: negative costs light, positive gains."""

    def true_s(self, release: Release) -> float:
        """Return the true time [s] to set with that release."""
        return self.dial_true_s if release == "dial" else self.remote_s

    def shown_s(self, release: Release) -> float:
        """Return the time [s] as it is set: the dial's mark, or the remote's seconds."""
        return self.dial_marked_s if release == "dial" else self.remote_s


@dataclass(frozen=True)
class FrameTimes:
    """Longest times of a setting: its centre holds the rule, or even its worst place does."""

    centre: Times
    corners: Times
    holds_at: HoldsAt
    """Which of the two counts: one choice for all commands."""

    @property
    def chosen(self) -> Times:
        """The times that count."""
        return self.centre if self.holds_at == "centre" else self.corners

    @property
    def other(self) -> Times:
        """The times that stand beside them."""
        return self.corners if self.holds_at == "centre" else self.centre


@dataclass(frozen=True)
class Worth:
    """What one setting is worth, compared at its longest allowed time."""

    setting: LensSetting
    times: FrameTimes
    exposure_s: float
    release: Release
    iso: WorkingIso
    gathered_mm2_s: float
    """Light that one frame gathers: pupil area x transmission x time."""
    falloff: FalloffSource
    corner_stops: float
    """Star light lost in the corner; nan where the projection shows none."""
    factors: Mapping[str, float]
    """Values of the factors of both questions by code, in the order of verdict.factors.FACTORS."""
    score: Interval
    """Of the question asked, against its reference."""
    other_score: float
    """Of the other question."""
    peak_kept: float
    """Share of a star's peak that the viewed picture keeps, mean over the tested frame."""
    crowded_share: float
    """Share of the stars bright enough that brighter neighbours swallow."""
    looks: tuple[Look, ...]
    """Phone, screen and print, in this order."""
    lens_tightness_percent: float
    lens_tightness_percent_err: float | None
    worst_place: str
    mean_tightness_percent: float
    """Mean of the lens's blur over the tested frame."""
    tightness_percent: float
    """Worst zone with its trail."""
    trail_percent: float
    at_limit: bool
    over_limit_percent: float | None
    """By how much it misses the person's limit [% of height]; None: within it, or no limit."""
    places_measured: tuple[str, ...]
    notes: tuple[Note, ...] = ()
    tightness_interval: Interval | None = None
    """lens_tightness_percent with its 95 % interval; None at limit and where nothing is known."""
    measured_falloff: PupilFalloff | None = None
    """None: falloff is the model's."""

    @property
    def eligible(self) -> bool:
        """Whether the setting is within the person's limit; True without one."""
        return self.over_limit_percent is None


@dataclass(frozen=True)
class WideOpen:
    """What the lens's widest opening would have given in place of its best setting."""

    worth: Worth
    light_stops: float
    """Light gathered over that of the best setting."""
    reason: LossReason


@dataclass(frozen=True)
class UnevenCorners:
    """Places at equal radius that differ beyond their errors: a decentred or tilted copy."""

    worst_place: str
    best_place: str
    ratio: float
    """Length in the worst place over that in the best."""
    chance: float
    """How often a sound lens shows as much."""
    at_least: bool
    """Whether the best place is at limit, so that the ratio is a lower bound."""
    score_without: float
    """Score if the worst place were as the others are."""


@dataclass(frozen=True)
class Standing:
    """A lens in the ranking: its best setting and where it stands."""

    place: int
    worth: Worth
    over_limit: bool
    """True if no setting of the lens meets the limit: it stands below those that do."""
    gain_over_next_percent: Interval | None
    """Over the lens named in next_lower; None for the last and where only that one is over the
    limit."""
    next_lower: str | None
    tied_with: tuple[str, ...]
    different_picture: bool = False
    """Whether the next lower lens's picture differs by more than 1.25 in focal length."""
    tighter: Worth | None = None
    """The tightest setting of the lens that loses less than a third of a stop."""
    wide_open: WideOpen | None = None
    """None where the best setting is the widest opening measured at its focal length."""
    copy: CopyFinding | None = None
    """What the places at equal radius say of this copy at the best setting."""
    uneven: UnevenCorners | None = None
    """What a bad side costs; None where the copy is not called uneven."""
    shorter_score: float | None = None
    """Score at 0.7 times the time."""
    longer_score: float | None = None
    """Score at 1.4 times the time."""

    @property
    def hardly_visible(self) -> bool:
        """Whether the gain over the next is under a third of a stop (common practice)."""
        gain = self.gain_over_next_percent
        return gain is not None and gain.value < VISIBLE_GAIN_PERCENT


@dataclass(frozen=True)
class OrderFrequency:
    """How often the order of the lenses stays: over resampled repeats, light within its
    uncertainty, weights and purposes."""

    first_shares: tuple[tuple[str, float], ...]
    """How often each lens comes first: (lens, share), in the order of the ranking."""
    whole_order_share: float
    """How often all lenses stand as listed."""
    trials: int
    tried_weights: Mapping[str, tuple[float, float]]
    """The ends of each factor's power by code; all factors share one draw."""


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
class ScatterParts:
    """What makes a length uncertain, each part as 1 sigma in %; None: not measured."""

    photon_percent: float | None
    """Noise of one frame."""
    repeat_percent: float | None
    """From repeat to repeat, refocusing included."""
    repeat_degrees_of_freedom: int | None
    visit_percent: float | None
    """From one visit of a setting to the next, beyond repeats."""
    drift_err_percent: float | None
    """Left by the correction of drift, from end to end of a session."""
    session_err_percent: float | None
    """Left by the correction of what differs between sessions."""
    copy_percent: float | None
    """From copy to copy of a lens: never measured on one copy."""


@dataclass(frozen=True)
class Ranking:
    """The whole verdict."""

    standings: tuple[Standing, ...]
    worths: tuple[Worth, ...]
    """Every measured setting."""
    unbeaten: tuple[Worth, ...]
    """Settings that no other beats in both light and tightness."""
    reference: LensSetting | None
    question: Question
    eye: Eye
    """How the pictures are looked at."""
    limit: LimitChoice | None
    order_frequency: OrderFrequency | None
    assumptions: tuple[Assumption, ...]
    not_ranked: tuple[NotRanked, ...]
    jumps: tuple[ZoomJump, ...] = ()
    """Zoom positions to be warned of, by lens and focal length."""
    sessions: tuple[SessionOnRecord, ...] = ()
    """In the order of time."""
    scatter: ScatterParts | None = None
    not_tested: tuple[NotTested, ...] = ()

    def jumps_of(self, lens: str) -> dict[float, ZoomJump]:
        """Return the jumps of a lens by focal length [mm]."""
        return {jump.focal_mm: jump for jump in self.jumps if jump.lens == lens}
