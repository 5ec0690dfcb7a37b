"""Words for what the almanac says of a night: sun, moon, target, place, directions."""

from __future__ import annotations

from nightglass.almanac.codes import (
    MoonCode,
    MoonPhase,
    PlaceCaution,
    PlaceCautionCode,
    SunCode,
    TargetCode,
)
from nightglass.almanac.horizon import Horizon
from nightglass.almanac.night import Night
from nightglass.almanac.place import Place

POINTS = (
    "north", "north-north-east", "north-east", "east-north-east",
    "east", "east-south-east", "south-east", "south-south-east",
    "south", "south-south-west", "south-west", "west-south-west",
    "west", "west-north-west", "north-west", "north-north-west",
)  # fmt: skip

PHASE_WORDS: dict[MoonPhase, str] = {phase: phase.value.replace("_", " ") for phase in MoonPhase}

_MOON: dict[MoonCode, str] = {
    MoonCode.DOWN_ALL_DAY: "The moon stays down all day.",
    MoonCode.UP_ALL_DAY: "The moon is up all day.",
    MoonCode.UP_ALL_NIGHT: "The moon is up all night.",
    MoonCode.DOWN_ALL_NIGHT: "The moon is down all night.",
}
_TARGET: dict[TargetCode, str] = {
    TargetCode.NEVER_RISES: "never rises above this horizon",
    TargetCode.NO_MOONLESS_DARK: "no time that is dark and moonless",
    TargetCode.NOT_UP_THEN: "only up in daylight, twilight or moonlight",
    TargetCode.NEVER_SETS: "never sets",
}
_SWAPPED: dict[PlaceCautionCode, str] = {
    PlaceCautionCode.COORDINATES_SWAPPED: "latitude and longitude swapped",
    PlaceCautionCode.EAST_WEST_SWAPPED: "east and west swapped",
    PlaceCautionCode.NORTH_SOUTH_SWAPPED: "north and south swapped",
}


def compass(azimuth_degrees: float) -> str:
    """Return the nearest of the sixteen points of the compass in words."""
    return POINTS[round((azimuth_degrees % 360.0) / 22.5) % 16]


def sun_words(night: Night) -> str:
    """Return what is unusual about the sun; empty for a night that gets fully dark."""
    match night.sun_code:
        case None:
            return ""
        case SunCode.STAYS_UP:
            return "The sun stays up: there is no night."
        case SunCode.NO_FULL_DARKNESS:
            return f"No full darkness: the sun goes no lower than {night.sun_lowest_degrees:.1f}°."
        case SunCode.DARK_ALL_DAY:
            return "The sun stays down, and it is fully dark all day."
        case SunCode.STAYS_DOWN:
            return f"The sun stays down; it comes up to {night.sun_highest_degrees:.1f}° at noon."


def moon_words(code: MoonCode | None) -> str:
    """Return whether the moon is up or down the whole night; else empty."""
    return "" if code is None else _MOON[code]


def target_words(code: TargetCode | None) -> str:
    """Return why a target can't be seen, or that it never sets; else empty."""
    return "" if code is None else _TARGET[code]


def night_words(night: Night) -> str:
    """Return what is unusual about sun and moon of a night, in one line."""
    return " ".join(w for w in (sun_words(night), moon_words(night.moon_code)) if w)


def place_text(place: Place) -> str:
    """Return the coordinates with letters: "52.1000° N 4.4000° E"."""
    ns = "S" if place.latitude_degrees < 0 else "N"
    ew = "W" if place.longitude_degrees < 0 else "E"
    return f"{abs(place.latitude_degrees):.4f}° {ns} {abs(place.longitude_degrees):.4f}° {ew}"


def horizon_text(horizon: Horizon) -> str:
    """Return the horizon as a person types it: "6° all round" or "0:5, 60:12"."""
    if len(set(horizon.heights_degrees)) == 1:
        return f"{horizon.heights_degrees[0]:g}° all round"
    pairs = zip(horizon.azimuths_degrees, horizon.heights_degrees, strict=True)
    return ", ".join(f"{a:g}:{h:g}" for a, h in pairs)


def look_again_lines(place: Place) -> list[str]:
    """Return what looks odd about a place, a line each."""
    return [f"Look again: {_caution_words(caution)}." for caution in place.cautions]


def _caution_words(caution: PlaceCaution) -> str:
    v = caution.values
    if caution.code is PlaceCautionCode.CLOCK_OFF_THE_SUN:
        return (
            f"The clock of {v['zone']} (UTC{v['offset_h']:+g} h in winter) is "
            f"{v['off_the_sun_h']:.1f} h off the sun at this longitude. Check the zone and the "
            "sign of the longitude"
        )
    return (
        f"This place is {v['here_km']:.0f} km from the town of {v['zone']}; with "
        f"{_SWAPPED[caution.code]} it would be {v['swapped_km']:.0f} km. Check the coordinates"
    )
