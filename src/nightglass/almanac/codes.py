"""What the almanac says in codes; nightglass.show.plan.words words them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum


class SunCode(StrEnum):
    """What is unusual about the sun of a night."""

    STAYS_UP = "stays_up"
    NO_FULL_DARKNESS = "no_full_darkness"
    DARK_ALL_DAY = "dark_all_day"
    STAYS_DOWN = "stays_down"


class MoonCode(StrEnum):
    """A moon that neither rises nor sets while it matters."""

    DOWN_ALL_DAY = "down_all_day"
    UP_ALL_DAY = "up_all_day"
    UP_ALL_NIGHT = "up_all_night"
    DOWN_ALL_NIGHT = "down_all_night"


class TargetCode(StrEnum):
    """Why a target can't be seen in a night, or that it never sets."""

    NEVER_RISES = "never_rises"
    NO_MOONLESS_DARK = "no_moonless_dark"
    NOT_UP_THEN = "not_up_then"
    NEVER_SETS = "never_sets"


class MoonPhase(StrEnum):
    """The moon's phase by its name in the trade."""

    NEW_MOON = "new_moon"
    WAXING_CRESCENT = "waxing_crescent"
    FIRST_QUARTER = "first_quarter"
    WAXING_GIBBOUS = "waxing_gibbous"
    FULL_MOON = "full_moon"
    WANING_GIBBOUS = "waning_gibbous"
    LAST_QUARTER = "last_quarter"
    WANING_CRESCENT = "waning_crescent"


class ZoneSource(StrEnum):
    """How the time zone of a place was found."""

    GIVEN = "given"
    NEAREST_TOWN = "nearest_town"
    LONGITUDE = "longitude"


class PlaceCautionCode(StrEnum):
    """What looks odd about a place and its zone."""

    COORDINATES_SWAPPED = "coordinates_swapped"
    EAST_WEST_SWAPPED = "east_west_swapped"
    NORTH_SOUTH_SWAPPED = "north_south_swapped"
    CLOCK_OFF_THE_SUN = "clock_off_the_sun"


@dataclass(frozen=True)
class PlaceCaution:
    """A code with its numbers and names."""

    code: PlaceCautionCode
    values: Mapping[str, float | str] = field(default_factory=dict)


ALMANAC_CODES: tuple[type[StrEnum], ...] = (
    SunCode,
    MoonCode,
    TargetCode,
    MoonPhase,
    ZoneSource,
    PlaceCautionCode,
)
