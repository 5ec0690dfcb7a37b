"""What solving, place and clock say of a frame, in codes; nightglass.show.sky has their words."""

from __future__ import annotations

from enum import StrEnum


class UnsolvedReason(StrEnum):
    """Why a frame could not be solved."""

    TOO_FEW_STARS = "too_few_stars"
    NO_PATTERN_FITS = "no_pattern_fits"


class Advice(StrEnum):
    """What would help to solve a frame."""

    MORE_LIGHT = "more_light"
    NAME_THE_CAMERA = "name_the_camera"
    ANOTHER_FRAME = "another_frame"


class AirReason(StrEnum):
    """Why the air was left in the camera of a frame."""

    PLACE_OR_TIME_UNKNOWN = "place_or_time_unknown"
    CLOCK_REFUTED = "clock_refuted"
    STARS_BELOW_HORIZON = "stars_below_horizon"
    FEW_STARS_UP = "few_stars_up"
    ANOTHER_CLOCK_FITS = "another_clock_fits"
    STARS_DISAGREE = "stars_disagree"


class ClockNote(StrEnum):
    """What is to be known of a frame's time."""

    NO_TIME = "no_time"
    ZONE_ASSUMED = "zone_assumed"
    OUTSIDE_EPHEMERIS = "outside_ephemeris"


class SkyLight(StrEnum):
    """What lights the sky beside the stars."""

    DAYLIGHT = "daylight"
    TWILIGHT = "twilight"
    MOONLIGHT = "moonlight"


ASTROMETRY_CODES: tuple[type[StrEnum], ...] = (
    UnsolvedReason,
    Advice,
    AirReason,
    ClockNote,
    SkyLight,
)
