"""What a factor study finds: effects with intervals, or the code of why there is none."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from nightglass.gear.lens import LensSetting


class Influence(StrEnum):
    """A condition of the bench that may move the measured size."""

    EXPOSURE = "exposure"
    ISO = "iso"
    DISTANCE = "distance"
    SOURCE = "source"
    FOCUS = "focus"


class InfluenceFault(StrEnum):
    """Why an influence has no number."""

    NEVER_VARIED = "never_varied"
    NOT_KNOWN = "not_known"
    ONLY_TOGETHER = "only_together"
    TOO_FEW_FRAMES = "too_few_frames"
    TOO_FEW_ROUNDS = "too_few_rounds"


class LadderVerdict(StrEnum):
    """Whether unclipped frames of several exposures give one size."""

    AGREE = "agree"
    DIFFER = "differ"
    NOT_TOLD = "not_told"


@dataclass(frozen=True)
class Span:
    """A value with its 95 % interval."""

    value: float
    low: float
    high: float

    @property
    def found(self) -> bool:
        """Whether the interval leaves out 0."""
        return self.low * self.high > 0

    @property
    def most(self) -> float:
        """The largest size, of either sign, that the interval holds."""
        return max(abs(self.low), abs(self.high))


@dataclass(frozen=True)
class Effect:
    """What one influence does to the size."""

    influence: Influence
    least: float | None
    """Smallest and largest value tried: s, ISO, m, mm, marks; None where none is known."""
    most: float | None
    levels: int
    """How many different values were tried."""
    percent: Span | None = None
    """Change of the size for one stop (exposure, ISO), one doubling (distance, source), or one
    mark (focus); None with a fault."""
    share_percent: Span | None = None
    """How much of the spread (variance of ln size) it explains."""
    off_best: bool = False
    """Of the focus: percent is for one mark off the best focus, which lay inside the range."""
    degrees_of_freedom: float | None = None
    fault: InfluenceFault | None = None
    together_with: tuple[Influence, ...] = ()


@dataclass(frozen=True)
class LadderStep:
    """Unclipped frames of one exposure time."""

    exposure_s: float
    frames: int
    size_px: float
    err_px: float | None
    """1-sigma error of the mean; None for one frame."""
    peak_share: float | None


@dataclass(frozen=True)
class Ladder:
    """Frames that differ in exposure alone: whether they agree on the size."""

    verdict: LadderVerdict
    steps: tuple[LadderStep, ...]
    probability: float | None
    """Of differences as large as these, by chance alone."""


@dataclass(frozen=True)
class FactorStudy:
    """One setting with the star at one place."""

    setting: LensSetting
    place: str
    series: str | None
    frames: int
    rounds: int
    """Sessions and series that the random part tells apart; 1: none."""
    left_out_clipped: int
    left_out_at_limit: int
    size_px: float
    spread_percent: float
    """Standard deviation of the frames' ln size."""
    effects: tuple[Effect, ...]
    between_rounds_percent: float | None
    """Share of the spread between rounds; None with one round, or where frames tell none."""
    unexplained_percent: float
    """Share of the spread that nothing explains, from frame to frame."""
    ladder: Ladder | None
    """None where the exposure never varied."""
