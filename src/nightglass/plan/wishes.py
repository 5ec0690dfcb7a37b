"""What a person asks of the planner, as typed: records that commands share."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True)
class PlaceWish:
    """Where the tripod stands; what is None comes from the site of bench.toml."""

    at: str | None = None
    """Coordinates, or the name of the site."""
    zone: str | None = None
    height_m: float | None = None
    horizon: str | None = None
    """A height, a table, or the name of a file of it."""


@dataclass(frozen=True)
class WhenWish:
    """Which night, and which time of it."""

    date: str | None = None
    """Evening of the night; None is the coming or running one."""
    time: str | None = None
    """Local clock; None is the best time of the night."""


@dataclass(frozen=True)
class GearWish:
    """Body and lens setting: a lens of the bench, or focal length and f-number."""

    lens: str | None = None
    focal_mm: float | None = None
    f_number: float | None = None
    sensor: str | None = None
    """"36x24" mm."""
    pixels: str | None = None
    """"6000x4000"."""
    portrait: bool | None = None
    """None leaves it to the plan: panoramas upright, all else level."""
    trail_percent: float | None = None
    """Longest trail, % of picture height."""
    body: str | None = None
    """Of the bench, or a part of its name; None is the one of [body]."""


@dataclass(frozen=True)
class FrameTimeWish:
    """The time of one frame of several."""

    exposure_s: float | None = None
    """True time; None is the longest that the tolerance allows."""
    remote: bool | None = None
    """Released by a remote, in whole seconds, or on the dial's steps; None: as bench.toml says, a
    remote without one."""


@dataclass(frozen=True)
class AreaWish:
    """What a panorama is to cover."""

    width_degrees: float | None = None
    heights: str = "-5..60"
    middle_degrees: float = 180.0
    like_mm: float | None = None
    like_height_degrees: float = 30.0
    arch: bool = False


@dataclass(frozen=True)
class WideWish:
    """The one wide frame that a panorama is held against; without a focal length as
    AreaWish.like_mm."""

    wide_focal_mm: float | None = None
    wide_f_number: float | None = None


@dataclass(frozen=True)
class OverlapWish:
    """How frames overlap."""

    overlap_percent: float | None = None
    usable_percent: float | None = None


@dataclass(frozen=True)
class PaceWish:
    """What a frame takes beside its exposure."""

    saving_s: float = 2.0
    turning_s: float = 6.0
    dark_frame: bool = False


@dataclass(frozen=True)
class DepthWish:
    """What is taken for the spot of a star."""

    noise_area_px: float | None = None


@dataclass(frozen=True)
class PanoramaWish:
    """A panorama as asked for."""

    area: AreaWish = field(default_factory=AreaWish)
    wide: WideWish = field(default_factory=WideWish)
    overlap: OverlapWish = field(default_factory=OverlapWish)
    time: FrameTimeWish = field(default_factory=FrameTimeWish)
    pace: PaceWish = field(default_factory=PaceWish)
    depth: DepthWish = field(default_factory=DepthWish)
    gear: GearWish = field(default_factory=GearWish)
    place: PlaceWish = field(default_factory=PlaceWish)
    when: WhenWish = field(default_factory=WhenWish)


@dataclass(frozen=True)
class StackGoalWish:
    """What a stack is for: at most one of frames, noise and depth."""

    aim: str = "180 30"
    frames: int | None = None
    noise_percent: float | None = None
    depth_mag: float | None = None
    gap_s: float = 3.0
    sky_mag: float | None = None


@dataclass(frozen=True)
class StackWish:
    """A stack as asked for."""

    run: StackGoalWish = field(default_factory=StackGoalWish)
    time: FrameTimeWish = field(default_factory=FrameTimeWish)
    depth: DepthWish = field(default_factory=DepthWish)
    gear: GearWish = field(default_factory=GearWish)
    place: PlaceWish = field(default_factory=PlaceWish)


@dataclass(frozen=True)
class LookWish:
    """Where one frame looks."""

    aim: str = "centre of the Milky Way in the middle"
    roll_degrees: float = 0.0


@dataclass(frozen=True)
class TonightWish:
    """One frame of a night as asked for."""

    look: LookWish = field(default_factory=LookWish)
    gear: GearWish = field(default_factory=GearWish)
    place: PlaceWish = field(default_factory=PlaceWish)
    when: WhenWish = field(default_factory=WhenWish)


@dataclass(frozen=True)
class NightsWish:
    """Nights as asked for."""

    date: str | None = None
    """One date, a span, a month or a year; None is the coming night."""
    target: str = "centre of the Milky Way"
    sky_mag: float | None = None
    place: PlaceWish = field(default_factory=PlaceWish)


@dataclass(frozen=True)
class SeasonWish:
    """A run of nights as asked for."""

    first: str | None = None
    nights: int = 365
    target: str = "centre of the Milky Way"
    place: PlaceWish = field(default_factory=PlaceWish)
