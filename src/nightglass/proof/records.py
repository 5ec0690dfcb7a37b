"""Bench against sky, as tables and charts show it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from nightglass.gear.lens import LensSetting
from nightglass.light.falloff import PupilFalloff
from nightglass.proof.codes import (
    CauseCode,
    NextStepCode,
    StarsFactor,
    VerdictCode,
)
from nightglass.proof.reasons import FrameReason, PlaceReason, PredictionReason
from nightglass.proof.redraw.pair import StarPair
from nightglass.sky.astrometry.codes import SkyLight
from nightglass.sky.zones.zone import Zone
from nightglass.verdict.records import Interval

ZoneKind = Literal["here", "beside", "elsewhere"]
"""Where the sky's zone lies that speaks for a bench place: it holds the place, it is one beside it,
or it lies in another part of the frame, as far from the centre."""


def side_of(span: Interval | None, even: float = 1.0) -> int:
    """Return 1 for an interval wholly above what agrees, -1 for one below it, else 0."""
    if span is None or span.low is None or span.high is None:
        return 0
    return int(span.low > even) - int(span.high < even)


@dataclass(frozen=True)
class RedrawnSize:
    """One bench place in one frame: its spot drawn in the place of the stars about it, with their
    light, trails, neighbours and noise, and both measured by the same code."""

    place: str
    stars: int
    log_ratio: float
    """ln of sky over bench at the place itself, trails in."""
    log_err: float
    freedom: float
    bench_px: float
    """Mean size of the redrawn stars, as measured."""
    sky_px: float
    picture: StarPair | None = None
    """A typical one of these stars, as recorded and as redrawn."""


@dataclass(frozen=True)
class Cause:
    """A known cause that fits differences, with what narrows it down."""

    code: CauseCode
    factors: tuple[StarsFactor, ...] = ()
    conditions: tuple[SkyLight, ...] = ()
    """What was bright, as SkyFrame has it."""
    stars: int | None = None
    """Number of stars under which a place has few."""


@dataclass(frozen=True)
class Prediction:
    """One number of a frame: predicted from bench and night, and found. None: can't be told."""

    predicted: float | None = None
    found: float | None = None
    log_err: float = 0.0
    """1-sigma error of ln(found / predicted), or of the difference."""
    freedom: float = float("inf")
    ratio: Interval | None = None
    """Found over predicted, 95 %; for magnitudes the difference found minus predicted."""
    reason: PredictionReason | None = None
    even: float = 1.0
    """Ratio or difference of what agrees."""

    @property
    def differs(self) -> int:
        """1: more than predicted beyond the errors, -1: less, 0: neither can be said."""
        return side_of(self.ratio, self.even)


@dataclass(frozen=True)
class FrameNight:
    """Light, limit, stars and glow of one frame, against what bench and night predict."""

    light: Prediction
    """Light of a star through the lens: bench.toml against the zero point of the night."""
    limit: Prediction
    """Faintest star, magnitudes G."""
    stars: Prediction
    """Stars of SNR 5 in the open sky for which the bench's places speak."""
    glow: Prediction
    """Signal-to-noise of the Milky Comparison's even light per square degree."""
    tested_share: float = 0.0
    """Share of the frame over which stars and limit are compared: open sky, and near a place."""
    beyond_share: float = 0.0
    """Share of the predicted stars that come from the table of counts, not the catalogue."""


@dataclass(frozen=True)
class SkyFrame:
    """One frame of the sky as the comparison needs it; every frame stays in the list."""

    file: str
    setting: LensSetting | None
    zones: tuple[Zone, ...] = ()
    moved: bool = False
    """The camera moved beyond what the sky explains."""
    stars: int = 0
    clipped_share: float = 0.0
    """Share of the stars of SNR 25 and more that are too bright to be used."""
    limiting_mag: float | None = None
    sky_mag_arcsec2: float | None = None
    conditions: tuple[SkyLight, ...] = ()
    """What was bright; empty for a dark night or an unknown one."""
    reason: FrameReason | None = None
    redrawn_sizes: tuple[RedrawnSize, ...] = ()
    """Bench places whose spots were drawn in the place of this frame's stars."""
    night: FrameNight | None = None
    falloff: PupilFalloff | None = None
    """As its stars show it; None where they do not."""
    content_hash: str = ""


@dataclass(frozen=True)
class PlaceProof:
    """One bench place against the sky [px]; None where it can't be compared."""

    place: str
    field_radius: float
    sky_radius: float | None = None
    """Of the middle of the sky's zone, which is never quite the same."""
    zone_kind: ZoneKind = "here"
    """Of the zone that speaks for the lens alone; of several frames the farthest kind."""
    zone_away_percent: float | None = None
    """From the place to that zone's middle, % of picture height, mean of the frames."""
    zone_joined: bool = False
    """The zone was joined of two, because each alone has too few stars."""
    bench_length_px: float | None = None
    """Length on the bench, by which its largest place is chosen; None: at limit or not measured."""
    frames: int = 0
    stars: int = 0
    bench_px: float | None = None
    sky_px: float | None = None
    """At the bench's place: carried there from the zone by the change between zones."""
    ratio: Interval | None = None
    """Sky over bench: the lens alone."""
    trail_px: float | None = None
    as_measured_bench_px: float | None = None
    """The bench's spot drawn in the place of the frame's stars, as the program measures them."""
    as_measured_sky_px: float | None = None
    """These stars themselves, by the same code."""
    as_measured_ratio: Interval | None = None
    as_measured_stars: int = 0
    bench_log_err: float = 0.0
    bench_freedom: float = float("inf")
    sky_log_err: float = 0.0
    sky_freedom: float = float("inf")
    bench_span: Interval | None = None
    """bench_px with its 95 % interval."""
    sky_span: Interval | None = None
    """sky_px with its 95 % interval."""
    reason: PlaceReason | None = None

    @property
    def differs(self) -> int:
        """1: larger on the sky beyond the errors, -1: smaller, 0: neither can be said.

        The one judgement of a place. By the stars drawn alike ("as measured") where there are
        some: they stand about the place itself; else by the lens alone.
        """
        return side_of(self.as_measured_ratio or self.ratio)

    @property
    def lens_alone_differs(self) -> int:
        """What the lens alone says, which decides only where no stars were drawn alike."""
        return side_of(self.ratio)

    @property
    def compared(self) -> bool:
        """Whether anything of the place could be compared."""
        return self.ratio is not None or self.as_measured_ratio is not None


@dataclass(frozen=True)
class SettingProof:
    """One lens setting with everything that can be compared of it."""

    setting: LensSetting
    files: tuple[str, ...]
    places: tuple[PlaceProof, ...]
    bench_worst: PlaceProof | None
    """The place that is largest on the bench, of those that all settings share."""
    sky_worst: PlaceProof | None
    """The same on the sky, which may be another place."""
    causes: tuple[Cause, ...]
    """Known causes that fit the differences; empty where nothing differs."""
    nights: tuple[tuple[str, FrameNight], ...] = ()
    """(file, light, limit, stars and glow of it)"""
    unseen: str | None = None
    """The place that is largest on the bench beyond the errors, where not all settings share it."""


SettingPair = tuple[LensSetting, LensSetting]


@dataclass(frozen=True)
class Verdict:
    """Whether the order of settings on the bench is that on the sky, and what that rests on."""

    code: VerdictCode
    settings: int
    """Number of settings with a size on bench and sky; of HOLDS and the like, at a shared place."""
    places: tuple[str, ...] = ()
    """Places at which it was judged."""
    odd: tuple[LensSetting, ...] = ()
    """Settings that several pairs contradict."""
    odd_pairs: tuple[SettingPair, ...] = ()
    """Pairs of which either setting may be the odd one."""
    unseen: tuple[tuple[str, LensSetting], ...] = ()
    """(place, setting) largest on the bench, without a size on the sky with every setting: as long
    as there are any, nothing is decided."""
    fewest: LensSetting | None = None
    """Of NO_SHARED_PLACE: the setting with fewest places, which are in `places`."""

    @property
    def undecided(self) -> bool:
        """Whether bench and sky can't tell."""
        decided = VerdictCode.HOLDS, VerdictCode.HOLDS_BUT, VerdictCode.CONTRADICTED
        return bool(self.unseen) or self.code not in decided


@dataclass(frozen=True)
class NextStep:
    """The one thing to do next, and with what."""

    code: NextStepCode
    setting: LensSetting | None = None
    place: str | None = None


@dataclass(frozen=True)
class Proof:
    """The whole comparison."""

    settings: tuple[SettingProof, ...]
    frames: tuple[SkyFrame, ...]
    not_on_sky: tuple[LensSetting, ...]
    """Settings of the bench without a frame of the sky."""
    tau: Interval | None
    """Kendall's rank correlation of bench and sky over settings, with its interval."""
    pairs_held: int
    pairs_against: tuple[SettingPair, ...]
    """Pairs (tighter on the bench, tighter on the sky) that both decide, against each other."""
    pairs_open: tuple[SettingPair, ...]
    """Pairs (tighter, wider on the bench) that the errors of bench or sky leave undecided."""
    stars_tau: Interval | None
    """The same of the numbers of stars that bench and night predict, and those found."""
    stars_settings: int
    """Number of settings that stars_tau compares."""
    verdict: Verdict
    next_step: NextStep
    picture_height_px: float
    shared_places: tuple[str, ...] = ()
    """Places that have a size on bench and sky with every setting: the order rests on them."""
