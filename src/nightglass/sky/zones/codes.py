"""What the zones of a frame say of motion and lens, in codes; nightglass.show.sky words them."""

from __future__ import annotations

from enum import StrEnum


class MotionKind(StrEnum):
    """What moved the stars during the exposure."""

    TRIPOD = "tripod"
    MOUNT = "mount"
    DRIFT = "drift"
    MOUNT_AND_DRIFT = "mount_and_drift"


class ZoneReason(StrEnum):
    """Why nothing is known of the lens in a zone by itself."""

    TOO_FEW_STARS = "too_few_stars"
    JOINED = "joined"
    NO_SPOT_FITS = "no_spot_fits"


class FalloffReason(StrEnum):
    """Why the light that a lens loses toward the corners is not known."""

    LITTLE_OPEN_SKY = "little_open_sky"
    TOO_FEW_STARS = "too_few_stars"
    BRIGHTER_AT_RIM = "brighter_at_rim"


class SideVerdict(StrEnum):
    """Whether stars on one side of the frame are larger than on the other."""

    NONE_SHOWN = "none_shown"
    TOO_SMALL_TO_SEE = "too_small_to_see"
    SOFTER = "softer"


class HintCode(StrEnum):
    """What the stars over the field say of focus and the shape of the field."""

    FAR_OUT_OF_FOCUS = "far_out_of_focus"
    SOFT_CENTRE = "soft_centre"
    RADIAL_RIM = "radial_rim"
    TANGENTIAL_RIM = "tangential_rim"


ZONE_CODES: tuple[type[StrEnum], ...] = (
    MotionKind,
    ZoneReason,
    FalloffReason,
    SideVerdict,
    HintCode,
)
