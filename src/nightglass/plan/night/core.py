"""When the target of a night is up in the dark: tonight, or in which night next."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

import numpy as np

from nightglass.almanac.ephemeris import (
    DateOutsideEphemerisError,
    Target,
    ephemeris,
    unix_seconds,
)
from nightglass.almanac.horizon import Horizon, seen_altitude_degrees
from nightglass.almanac.horizontal import look
from nightglass.almanac.night import Night, nights
from nightglass.almanac.place import Place
from nightglass.almanac.windows import Window
from nightglass.plan.codes import CoreCode
from nightglass.plan.night.season import LEAST_HOURS

NIGHTS_AT_ONCE, NIGHTS_AHEAD = 30, 390
"""A year and a lunation: what is not up in the dark in these nights is taken as never so."""


@dataclass(frozen=True)
class CoreInNight:
    """A target through the dark of one night; altitudes as seen, air included."""

    code: CoreCode
    window: Window | None
    """First time up, dark and moonless; UP_IN_MOONLIGHT: up and dark. None when it is not up."""
    altitude_degrees: float | None
    """At the window's start."""
    azimuth_degrees: float | None
    next_window: Window | None
    """Where the night has no moonless time: the first of half an hour or more in a later one;
    None too when no night of the coming year has any."""


def core_in_night(night: Night, horizon: Horizon) -> CoreInNight:
    """Return whether the night's target is up in the dark, from when, and else when next."""
    usable = night.target.up_and_dark
    if usable:
        altitude, azimuth = _seen(night, usable[0])
        return CoreInNight(CoreCode.UP, usable[0], altitude, azimuth, None)
    moonlit = [
        Window(max(up.start, dark.start), min(up.end, dark.end))
        for up in night.target.up
        for dark in night.dark
        if min(up.end, dark.end) > max(up.start, dark.start)
    ]
    later = _next(night, horizon)
    if not moonlit:
        return CoreInNight(CoreCode.NOT_UP, None, None, None, later)
    altitude, azimuth = _seen(night, moonlit[0])
    return CoreInNight(CoreCode.UP_IN_MOONLIGHT, moonlit[0], altitude, azimuth, later)


def _seen(night: Night, window: Window) -> tuple[float, float]:
    target = night.target.target
    sky = ephemeris(window.start, window.start + timedelta(minutes=1), (target,))
    seen = look(sky, target.name, night.place, np.array([unix_seconds(window.start)]))
    return float(seen_altitude_degrees(seen.altitude_degrees[0])), float(seen.azimuth_degrees[0])


def _next(night: Night, horizon: Horizon) -> Window | None:
    place, target = night.place, night.target.target
    for ahead in range(1, NIGHTS_AHEAD, NIGHTS_AT_ONCE):
        for later in _nights_from(night, ahead, place, target, horizon):
            long = [w for w in later.target.up_and_dark if w.hours >= LEAST_HOURS]
            if long:
                return long[0]
    return None


def _nights_from(
    night: Night, ahead: int, place: Place, target: Target, horizon: Horizon
) -> tuple[Night, ...]:
    try:
        first = night.date + timedelta(days=ahead)
        return nights(place, first, NIGHTS_AT_ONCE, target, horizon)
    except (DateOutsideEphemerisError, OverflowError):
        return ()
