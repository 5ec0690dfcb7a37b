"""Records of a bench plan: numbers and codes."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from nightglass.gear.body import Body
from nightglass.gear.lens import LensSetting
from nightglass.shoot.codes import (
    AimProblem,
    CutCode,
    DistanceFrom,
    DistanceProblem,
    ExposureSource,
    Role,
    ScatterSource,
)


@dataclass(frozen=True)
class Aim:
    """Where the camera points so that the star falls on one place of the frame."""

    place: str
    x_percent: float
    y_percent: float
    field_radius: float
    off_axis_degrees: float | None = None
    pan_degrees: float | None = None
    """From the star in the centre; positive: turn the camera to the right."""
    tilt_degrees: float | None = None
    """From the star in the centre; positive: tilt the camera up."""
    stand_m: float | None = None
    """From camera to source, so that the source stays in the plane of focus."""
    false_blur_um: float | None = None
    """Disc that appears wide open if the camera only turns."""
    false_blur_percent: float | None = None
    """The same in % of picture height."""
    problem: AimProblem | None = None


@dataclass(frozen=True)
class Distance:
    """How far the source stands from one lens at one focal length."""

    lens: str
    focal_mm: float
    f_number: float
    """Widest opening planned: where focus counts most."""
    distance_m: float | None
    """On the axis; None where the lens can't be tested."""
    distance_from: DistanceFrom
    least_m: float | None
    """From where the source's image stays within half a pixel at every place; None: the size of
    the source is not known."""
    largest_source_mm: float | None
    """Largest source for distance_m."""
    source_image_px: float | None
    """Image of the source at the worst place."""
    source_image_um: float | None
    """Image of the source on the axis."""
    left_at_infinity_um: float | None
    """Disc of the source where focus was left at infinity."""
    left_at_infinity_percent: float | None
    star_um: float | None
    """Disc of a star where focus stands on the source."""
    star_percent: float | None
    star_sharp_m: float
    """Focus here or beyond keeps a star's disc within a pixel."""
    room_m: float | None
    """Longest distance that all places ask for, standing back included."""
    aims: tuple[Aim, ...] = ()
    problem: DistanceProblem | None = None
    needs_room_m: float | None = None
    """Length of a room in which this lens can be tested with this source at these places."""


@dataclass(frozen=True)
class Exposure:
    """How long to expose so that the peak lands at 40 to 70 % of clipping."""

    source: ExposureSource
    marked_s: float | None = None
    true_s: float | None = None
    iso: int | None = None
    peak_share: float | None = None
    """Expected at that step."""
    flicker: bool = False
    """Shorter than the flicker of a lamp: dim the source instead."""


@dataclass(frozen=True)
class Line:
    """One setting with the star at one place."""

    id: str
    """The same in every plan that has this line."""
    setting: LensSetting
    place: str
    frames: int
    exposure: Exposure


@dataclass(frozen=True)
class Block:
    """What is shot without touching lens, zoom ring or aperture: rounds over its places.

    Every round begins with refocusing at the first place.
    """

    role: Role
    setting: LensSetting
    rounds: int
    lines: tuple[Line, ...]
    minutes: float

    @property
    def frames(self) -> int:
        """Frames of all rounds."""
        return self.rounds * len(self.lines)


@dataclass(frozen=True)
class Precision:
    """What a number of repeats can tell."""

    repeats: int
    tell_percent: float
    """Difference that was asked for."""
    needed: int | None
    """Repeats that find it in 80 % of cases; None: more than can be shot."""
    scatter_percent: float
    """Of a single repeat, relative."""
    scatter_source: ScatterSource
    scatter_dof: int | None
    """Degrees of freedom where it comes from the record."""
    counts_from_percent: float
    """Two means that differ by less are a tie (95 %)."""
    finds_percent: float | None
    """A true difference of this size is found in 80 % of cases; None: of none under 300 %."""


@dataclass(frozen=True)
class Cut:
    """Something that a short plan leaves out; before and after count what the code names."""

    code: CutCode
    before: float
    after: float
    names: tuple[str, ...] = ()
    """Places or lenses that are left out."""
    zooms: tuple[tuple[str, float], ...] = ()
    """(lens, focal length) that are left out."""


@dataclass(frozen=True)
class Total:
    """What a plan takes."""

    frames: int
    minutes: float


@dataclass(frozen=True)
class BenchPlan:
    """The whole plan of a session."""

    body: Body
    distances: tuple[Distance, ...]
    blocks: tuple[Block, ...]
    precision: Precision
    full_precision: Precision
    total: Total
    full: Total
    hours: float | None
    cuts: tuple[Cut, ...]
    source_mm: float | None
    reference: LensSetting | None
    stamp: str
    """Of all lines: two plans with one stamp are the same."""
    gear_stamp: str
    """Of what bench.toml says of gear, places and the session."""
    made: datetime
    on_record: tuple[tuple[LensSetting, int], ...] = ()
    """Settings of earlier sessions that this one adds to, with the rounds that each has."""
    before: tuple[str, ...] = ()
    """Content of the frames of those sessions: they fill no line of this plan."""

    @property
    def lines(self) -> tuple[Line, ...]:
        """All lines in the order of the session."""
        return tuple(line for block in self.blocks for line in block.lines)

    @property
    def untestable(self) -> tuple[Distance, ...]:
        """Lenses and focal lengths for which the room is too short."""
        return tuple(d for d in self.distances if d.distance_m is None)
