"""What the planner says in codes; nightglass.show.plan words them."""

from __future__ import annotations

from enum import StrEnum


class CautionCode(StrEnum):
    """What every plan says about safety."""

    DARK_GROUND = "dark_ground"
    NOT_ALONE = "not_alone"
    WARNINGS = "warnings"
    ROADS = "roads"
    COLD = "cold"
    BATTERIES = "batteries"
    ACCESS = "access"
    LASERS = "lasers"
    SUN = "sun"
    SKY_ALONE = "sky_alone"


class LightCode(StrEnum):
    """What the sun does at a moment."""

    SUN_UP = "sun_up"
    TWILIGHT = "twilight"
    DARK = "dark"


class FramePlace(StrEnum):
    """Where in the frame a place lies, in thirds of its sides."""

    CENTRE = "centre"
    LEFT_EDGE = "left_edge"
    RIGHT_EDGE = "right_edge"
    UPPER_EDGE = "upper_edge"
    LOWER_EDGE = "lower_edge"
    UPPER_LEFT_CORNER = "upper_left_corner"
    UPPER_RIGHT_CORNER = "upper_right_corner"
    LOWER_LEFT_CORNER = "lower_left_corner"
    LOWER_RIGHT_CORNER = "lower_right_corner"


class BlueHourCode(StrEnum):
    """Why a night has no blue hour."""

    SUN_DOES_NOT_PASS = "sun_does_not_pass"


class LandLightSource(StrEnum):
    """What lights the land."""

    MOONLIGHT = "moonlight"
    STARLIGHT = "starlight"


class SeasonCode(StrEnum):
    """Why the nights of a season are not chosen by the target."""

    TARGET_NEVER_IN_THE_DARK = "target_never_in_the_dark"
    NO_MOONLESS_DARK = "no_moonless_dark"


class CoreCode(StrEnum):
    """Whether the Milky Way's centre can be seen in a night."""

    UP = "up"
    UP_IN_MOONLIGHT = "up_in_moonlight"
    NOT_UP = "not_up"


class AreaKind(StrEnum):
    """What a panorama is to cover."""

    BOX = "box"
    LIKE_FRAME = "like_frame"
    ARCH = "arch"


class PanoramaRemark(StrEnum):
    """What to mind with a panorama."""

    LONG = "long"
    DARK_FRAME = "dark_frame"
    JOIN_APART = "join_apart"
    LEVEL_BASE = "level_base"


class AgainstCode(StrEnum):
    """How a panorama stands against a stack of wide frames in the same time."""

    STACK_AS_DEEP = "stack_as_deep"
    PANORAMA_DEEPER = "panorama_deeper"


class StackRemark(StrEnum):
    """What to mind with a stack."""

    MORE_LIGHT = "more_light"
    WILL_DRIFT = "will_drift"
    HAS_DRIFTED = "has_drifted"
    READ_NOISE = "read_noise"
    LAND_SMEARS = "land_smears"


class GearNoteCode(StrEnum):
    """How body and setting of a plan were found."""

    BEST_ON_BENCH = "best_on_bench"
    WIDE_OPEN = "wide_open"
    BODY_TAKEN = "body_taken"
    FALLOFF_LIMITS = "falloff_limits"
    ON_BODY = "on_body"


PLAN_CODES: tuple[type[StrEnum], ...] = (
    CautionCode,
    LightCode,
    FramePlace,
    BlueHourCode,
    LandLightSource,
    SeasonCode,
    CoreCode,
    AreaKind,
    PanoramaRemark,
    AgainstCode,
    StackRemark,
    GearNoteCode,
)
