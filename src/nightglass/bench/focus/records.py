"""What focus series say: frame by frame, place by place, over the field, between f-numbers."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from nightglass.gear.lens import LensSetting, MarksToward
from nightglass.optics.arrays import Floats


class PositionSource(StrEnum):
    """What stands for the focus of a frame."""

    MARKS = "marks"
    TIME_ORDER = "time_order"
    FILE_ORDER = "file_order"


class LeftOut(StrEnum):
    """Why a frame of a series does not count."""

    CLIPPED = "clipped"
    FAINT = "faint"
    NO_STAR = "no_star"
    NO_MARK = "no_mark"
    OUTLIER = "outlier"


class SeriesFault(StrEnum):
    """Why a series gives no best focus, or only a bound."""

    NO_FRAME = "no_frame"
    NEVER_VARIED = "never_varied"
    TOO_FEW = "too_few"
    NO_CHANGE = "no_change"
    BEYOND_LOWEST = "beyond_lowest"
    BEYOND_HIGHEST = "beyond_highest"
    NO_CURVE = "no_curve"


class AxisTurn(StrEnum):
    """What the long axis does through focus."""

    TURNS = "turns"
    STAYS = "stays"
    UNKNOWN = "unknown"


class FieldFault(StrEnum):
    """Why places or f-numbers can't be held against each other."""

    ONE_PLACE = "one_place"
    ORDER_DIFFERS = "order_differs"
    ONE_RADIUS = "one_radius"


class WavefrontFault(StrEnum):
    """Why a series has no wavefront."""

    TOO_FEW = "few_frames"
    OFF_CENTRE = "off_centre"
    MISFIT = "misfit"


ALL_CODES: tuple[type[StrEnum], ...] = (
    WavefrontFault,
    PositionSource, LeftOut, SeriesFault, AxisTurn, FieldFault,
)  # fmt: skip
"""Every kind of code in the plain data."""


@dataclass(frozen=True)
class Value:
    """A number with its 1-sigma error."""

    value: float
    err: float


@dataclass(frozen=True)
class SeriesFrame:
    """One frame of a series; sizes in px, pixel and source included."""

    path: str
    position: float | None
    """Mark, or number in the order from 1; None for a frame without a mark."""
    length_px: float | None = None
    length_px_err: float | None = None
    length_at_most_px: float | None = None
    width_px: float | None = None
    radial_px: float | None = None
    """Central 90 % of the light along `axis_degrees` of the place."""
    tangential_px: float | None = None
    """As radial_px, at right angles to it."""
    radial_angle_degrees: float | None = None
    """Between the long axis and `axis_degrees`, 0 to 90; None for a round spot."""
    left_out: LeftOut | None = None


@dataclass(frozen=True)
class FocusCurve:
    """One extent of a spot against focus: size^2 = best^2 + (slope (z - best))^2.

    The slope below best focus may differ from that above.
    """

    position: Value
    size_px: Value
    slope_low_px: float
    """Growth far below best focus, px a mark."""
    slope_high_px: float
    misfit: float
    """Root mean square of the frames' distances over their errors."""
    free: int
    """Frames less unknowns."""
    covariance: tuple[tuple[float, ...], ...]
    """Of position, ln size, ln slope, ln skew."""


@dataclass(frozen=True)
class BestFocus:
    """Where the length is least, from the curves of its extents."""

    position: Value
    size_px: Value
    curves: tuple[FocusCurve, ...]
    """Radial and tangential extent, or the length alone where they are not known."""
    log_scale: float = 0.0
    """ln of the length over what the curves make of it."""
    size_is_bound: bool = False
    """The best spot is smaller than the mosaic can resolve: size_px is an upper bound."""


@dataclass(frozen=True)
class Depth:
    """Where the length stays within 1.2 times the best."""

    low: float
    high: float
    value: float
    err: float
    is_bound: bool = False
    """Made with an upper bound of the best size: the depth is at most this."""


@dataclass(frozen=True)
class Astigmatism:
    """What the two directions of a place say of focus apart from astigmatism."""

    turn: AxisTurn
    gap: Value | None
    """Best focus of the radial extent less that of the tangential, marks."""
    axis_below_degrees: float | None = None
    """Mean angle between long axis and `axis_degrees` below best focus, 0 to 90."""
    axis_above_degrees: float | None = None


@dataclass(frozen=True)
class PlaceSeries:
    """The focus series of one setting at one place."""

    series: str
    setting: LensSetting
    place: str
    field_radius: float
    axis_degrees: float
    """Direction from the optical centre to the place; at the centre that of astigmatism."""
    at_centre: bool
    position_source: PositionSource
    frames: tuple[SeriesFrame, ...]
    best: BestFocus | None = None
    depth: Depth | None = None
    radial: FocusCurve | None = None
    tangential: FocusCurve | None = None
    astigmatism: Astigmatism | None = None
    fault: SeriesFault | None = None
    bound: float | None = None
    """With a fault of one side: the last position, beyond which best focus lies."""
    um_per_mark: float | None = None
    """Travel of focus at the sensor, from the growth of the disc far from focus (full pupil)."""
    source_px: float | None = None
    """Width of the source's own image."""
    azimuth_degrees: float | None = None
    """Direction from the frame's centre to the place, 0 right, 90 down, below 360."""


@dataclass(frozen=True)
class WavefrontFit:
    """The wavefront behind a series: rms path errors by Noll number."""

    terms: dict[int, Value] = field(default_factory=dict)
    """Um rms over the full opening: 5, 6 astigmatism, 7, 8 coma, 11 spherical."""
    per_mark_um: Value | None = None
    """Defocus (Noll 4) that one mark adds."""
    position: Value | None = None
    """Mark at which Noll 4 is 0."""
    chi2_per_free: float | None = None
    fault: WavefrontFault | None = None
    towards: MarksToward | None = None
    """The end to which higher marks run; None: not known, and the terms that it turns (even: 4, 5,
    6, 11) are given without a sign."""


@dataclass(frozen=True)
class PlaceAt:
    """A place at the common focus."""

    place: str
    length_px: float
    times_best: float
    best: Value


@dataclass(frozen=True)
class Tilt:
    """The slope of best focus over the frame, straight from side to side."""

    marks: Value
    """Best focus at the corner (field radius 1) of the higher side less that at the centre."""
    toward_degrees: Value
    """Direction in the frame in which best focus lies at higher marks: 0 right, 90 down."""
    chance: float
    """How often a sound lens on a straight mount shows as much: 0 to 1."""
    found: bool
    places: tuple[str, ...]
    """Those held against each other."""
    plane_degrees: Value | None = None
    """Between the plane of best focus and the sensor, where a mark's travel is known."""


@dataclass(frozen=True)
class FieldFocus:
    """All places of a setting together."""

    series: str
    setting: LensSetting
    compromise: Value | None
    """Focus at which the worst place is least blurred."""
    places: tuple[PlaceAt, ...] = ()
    curvature: Value | None = None
    """Best focus in the corner (field radius 1) less that at the centre, by a fit on radius^2."""
    curvature_misfit: float | None = None
    fault: FieldFault | None = None
    curvature_fault: FieldFault | None = None
    tilt: Tilt | None = None
    """None where too few places around the centre have a best focus."""


@dataclass(frozen=True)
class FocusShift:
    """How far best focus moves at one place when the lens is stopped down."""

    series: str
    lens: str
    focal_mm: float
    place: str
    f_number_from: float
    f_number_to: float
    shift: Value


@dataclass(frozen=True)
class FocusReport:
    """All focus series of a bench."""

    places: tuple[PlaceSeries, ...]
    fields: tuple[FieldFocus, ...]
    shifts: tuple[FocusShift, ...]
    not_separated: tuple[LensSetting, ...]
    """Settings on record without a best focus from a series."""
    images: dict[str, Floats]
    """Rebuilt spots by path, cut to their aperture, for drawing."""
