"""What a person says the camera looks at, and when."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta

from nightglass.almanac.ephemeris import Target
from nightglass.almanac.night import Night
from nightglass.almanac.place import Place
from nightglass.plan.camera import Pointing, Shot, pointing_for
from nightglass.plan.dates import day
from nightglass.plan.targets import target as named_target

THIRD = 2 / 3
"""The middle of an outer third, from the centre, over half the frame."""
_FORMS = (
    'write azimuth and height, like "180 25", or a target and a place in the frame, like "centre '
    'of the Milky Way in the left third"'
)


@dataclass(frozen=True)
class AimWish:
    """An aim as typed: fixed on the ground, or a target at a place of the frame."""

    pointing: Pointing | None = None
    target: Target | None = None
    share: tuple[float, float] = (0.0, 0.0)
    """(x, y) from -1 (left, top) to 1 (right, bottom)."""


def aim_wish(text: str, roll_degrees: float = 0.0) -> AimWish:
    """Return the wish that a text holds.

    "180 25" is azimuth and height of the frame's centre; "TARGET in the upper left third" puts a
    target there. Raises ValueError for other texts and for an aim below the horizon.
    """
    numbers = re.fullmatch(r"\s*(-?\d+(?:\.\d*)?)°?[\s,]+(-?\d+(?:\.\d*)?)°?\s*", text)
    if numbers:
        azimuth, altitude = float(numbers[1]), float(numbers[2])
        if not 0 <= azimuth <= 360:
            raise ValueError(f"azimuth {azimuth:g} is not between 0 and 360; {_FORMS}")
        if not altitude <= 90:
            raise ValueError(f"height {altitude:g} is above the zenith; it goes from 0 to 90")
        check_above_horizon(altitude, "the aim")
        return AimWish(Pointing(altitude, azimuth % 360.0, roll_degrees))
    match = re.fullmatch(
        r"(.+?)(?:\s+in\s+the\s+((?:upper|lower|left|right|middle|centre|center|\s)+?)(?:\s+third)?)?",
        text.strip(),
        re.IGNORECASE,
    )
    if not match:
        raise ValueError(f'"{text}" is no aim; {_FORMS}')
    try:
        wanted = named_target(match[1])
    except ValueError as error:
        raise ValueError(f'"{text}" is no aim: {error}; or {_FORMS}') from None
    words = set((match[2] or "").lower().split())
    x = THIRD * (("right" in words) - ("left" in words))
    y = THIRD * (("lower" in words) - ("upper" in words))
    return AimWish(target=wanted, share=(x, y))


def pointing_of(
    wish: AimWish, shot: Shot, target_at: tuple[float, float], roll_degrees: float = 0.0
) -> Pointing:
    """Return the pointing of a wish; target_at: (altitude, azimuth) of its target as seen.

    Raises ValueError for a target below the horizon.
    """
    if wish.pointing is not None:
        return wish.pointing
    check_above_horizon(target_at[0], "the target")
    return pointing_for(shot, target_at, wish.share, roll_degrees)


def check_above_horizon(altitude_degrees: float, what: str) -> None:
    """Raise ValueError for an altitude below the horizon."""
    if altitude_degrees < 0:
        raise ValueError(
            f"{what} lies {-altitude_degrees:.0f}° below the horizon; aim at 0 to 90 degrees, or "
            "choose a time when it is up (the command night shows them)"
        )


def local_time(text: str, place: Place, evening: date) -> datetime:
    """Return the aware moment of a clock time in the night of an evening.

    "23:15" before the next noon; "2027-05-07 01:15" as it stands. Raises ValueError for other
    forms and for times that a clock change leaves out.
    """
    full = re.fullmatch(r"(\d{4}-\d{1,2}-\d{1,2})[ T](\d{1,2}):(\d{2})", text.strip())
    short = re.fullmatch(r"(\d{1,2}):(\d{2})", text.strip())
    if full:
        evening, hour, minute = day(full[1]), int(full[2]), int(full[3])
    elif short:
        hour, minute = int(short[1]), int(short[2])
        evening = evening + timedelta(days=1) if hour < 12 else evening
    else:
        raise ValueError(f'"{text}" is no time; write the local clock, like 23:15 or 01:30')
    if hour > 23 or minute > 59:
        raise ValueError(f'"{text}" is no time of day; hours go to 23, minutes to 59')
    moment = datetime.combine(evening, time(hour, minute), tzinfo=place.zone)
    if moment.astimezone(UTC).astimezone(place.zone).time() != moment.time():
        raise ValueError(
            f"{text} does not exist on {evening:%d %B %Y} in {place.zone_name}: the clock jumps "
            "over it; choose a time an hour later"
        )
    return moment


def best_time(night: Night) -> datetime:
    """Return the time to plan for when none is typed: best dark and moonless, else the highest.

    Where there is no such time, the darkest moment of the night.
    """
    target = night.target
    if target.best_at is not None:
        return target.best_at.astimezone(night.place.zone)
    return night.sun_lowest_at.astimezone(night.place.zone)
