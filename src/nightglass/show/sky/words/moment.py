"""Place and time of a frame in plain words and as plain data: aim, sun, moon and the clock."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from nightglass.almanac.place import Place
from nightglass.almanac.unusual import DARK_DEGREES
from nightglass.sky.astrometry.codes import SkyLight
from nightglass.sky.astrometry.moment import (
    MOONLIT_SHARE,
    REFRACTION_AT_HORIZON_DEGREES,
    SkyMoment,
)

TILT_WORTH_SAYING_DEGREES = 8.0
"""A camera on a tripod seldom leans further by accident."""
HELD_SO = {
    "right": "the camera was held upright (portrait)",
    "left": "the camera was held upright (portrait)",
    "bottom": "the frame is upside down",
}
"""By the side of the raw frame toward which the zenith lies."""
LIGHTS = {
    SkyLight.DAYLIGHT: "the sun is up",
    SkyLight.TWILIGHT: f"the sun is less than {-DARK_DEGREES:.0f} degrees below the horizon",
    SkyLight.MOONLIGHT: f"the moon is up and {100 * MOONLIT_SHARE:.0f} % or more of it is lit",
}
"""Codes of `conditions` in the JSON, as the glossary explains them."""
BY_THE_CLOCK = (
    "aim_altitude_degrees", "aim_azimuth_degrees", "moon_altitude_degrees", "moon_share",
    "moon_separation_degrees", "conditions", "tilt_degrees", "level_off_minutes",
)  # fmt: skip
"""What a clock that can't be right says nothing of."""


def moment_data(seen: SkyMoment) -> dict[str, Any]:
    """Return the moment as plain values; None for what a clock that can't be right would say."""
    data = {**asdict(seen), "at": seen.at.isoformat(), "conditions": list(seen.conditions)}
    return data | (dict.fromkeys(BY_THE_CLOCK) if seen.refuted else {})


def moment_words(seen: SkyMoment, place: Place) -> list[str]:
    """Return the lines that a person reads."""
    there = seen.at.astimezone(place.zone)
    if seen.refuted:
        return [_refuted_words(seen, f"{there:%Y-%m-%d %H:%M} at {place.name}")]
    sun = "above" if seen.sun_altitude_degrees > 0 else "below"
    lines = [
        f"{there:%Y-%m-%d %H:%M} at {place.name}: aim {seen.aim_altitude_degrees:.0f} degrees up, "
        f"azimuth {seen.aim_azimuth_degrees:.0f}; sun {abs(seen.sun_altitude_degrees):.0f} "
        f"degrees {sun} the horizon; moon {_moon(seen)} (heights without refraction)"
    ]
    if seen.up_side in HELD_SO:
        lines.append(
            f"the zenith lies toward the frame's {seen.up_side} side: {HELD_SO[seen.up_side]}"
        )
    if seen.conditions:
        lines.append(
            f"{' and '.join(seen.conditions)}: not to be compared with a dark night in stars, "
            "glow or sky brightness"
        )
    return lines + _clock_words(seen)


def _clock_words(seen: SkyMoment) -> list[str]:
    if abs(seen.tilt_degrees) < TILT_WORTH_SAYING_DEGREES or seen.level_off_minutes is None:
        return []
    return [
        f"by the clock the camera leaned by {abs(seen.tilt_degrees):.0f} degrees; if it stood "
        f"level, the clock is {_off(seen.level_off_minutes)}: check clock and time zone"
    ]


def _refuted_words(seen: SkyMoment, said: str) -> str:
    """The one line on a clock that can't be right: nothing else is told by it."""
    wrong = (
        f"the sun would stand {seen.sun_altitude_degrees:.0f} degrees high"
        if seen.stars_altitude_degrees > -REFRACTION_AT_HORIZON_DEGREES
        else f"the stars of this frame would stand {-seen.stars_altitude_degrees:.0f} degrees "
        "below the horizon"
    )
    if seen.clock_off_minutes is None:
        return (
            f"the sky disagrees with place and clock ({said}): {wrong}, and no time of that day "
            "fits; check the place, then the date"
        )
    least = sorted(
        (off for off in (seen.clock_slow_minutes, seen.clock_fast_minutes) if off is not None),
        key=abs,
    )
    words = f"the sky disagrees with the clock ({said}): by it {wrong}; the clock is at least "
    words += " or at least ".join(map(_off, least))
    if seen.half_day_minutes is not None:
        level = abs(seen.half_day_tilt_degrees or 0.0) < TILT_WORTH_SAYING_DEGREES
        words += (
            f"; 12 hours {'later' if seen.half_day_minutes > 0 else 'earlier'} these stars are up "
            f"at night{' and the camera stood level' if level else ''} (a.m. and p.m. mixed up?)"
        )
    return (
        f"{words}; check clock, time zone and place; sun, moon and which side was up are not given"
    )


def _off(minutes: float) -> str:
    hours, rest = divmod(round(abs(minutes)), 60)
    size = f"{hours} h {rest:02d} min" if hours else f"{rest} min"
    return f"{size} {'slow' if minutes > 0 else 'fast'}"


def _moon(seen: SkyMoment) -> str:
    if seen.moon_altitude_degrees < 0:
        return "below the horizon"
    return (
        f"{seen.moon_altitude_degrees:.0f} degrees up, {100 * seen.moon_share:.0f} % lit, "
        f"{seen.moon_separation_degrees:.0f} degrees from the aim"
    )
