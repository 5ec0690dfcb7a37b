"""What a night lacks of the usual events: which code it gets. Levels of twilight."""

from __future__ import annotations

from nightglass.almanac.codes import MoonCode, SunCode, TargetCode
from nightglass.almanac.windows import Spans, length_s

SUNSET_DEGREES = -50 / 60
TWILIGHTS = {"civil": -6.0, "nautical": -12.0, "astronomical": -18.0}
DARK_DEGREES = TWILIGHTS["astronomical"]


def sun_code(lowest_degrees: float, highest_degrees: float) -> SunCode | None:
    """Return what is unusual about the sun; None for a night that gets fully dark."""
    if lowest_degrees > SUNSET_DEGREES:
        return SunCode.STAYS_UP
    if lowest_degrees > DARK_DEGREES:
        return SunCode.NO_FULL_DARKNESS
    if highest_degrees < DARK_DEGREES:
        return SunCode.DARK_ALL_DAY
    return SunCode.STAYS_DOWN if highest_degrees < SUNSET_DEGREES else None


def moon_code(dark: Spans, moonless: Spans, up: Spans) -> MoonCode | None:
    """Return whether the moon is up or down the whole night; None for neither."""
    if not dark:
        if not up:
            return MoonCode.DOWN_ALL_DAY
        return MoonCode.UP_ALL_DAY if length_s(up) > 86000 else None
    if not moonless:
        return MoonCode.UP_ALL_NIGHT
    return MoonCode.DOWN_ALL_NIGHT if length_s(moonless) > length_s(dark) - 1 else None


def target_code(up: Spans, usable: Spans, moonless: Spans, span_s: float) -> TargetCode | None:
    """Return why a target cannot be seen, or that it never sets; None for neither."""
    if not up:
        return TargetCode.NEVER_RISES
    if not moonless:
        return TargetCode.NO_MOONLESS_DARK
    if not usable:
        return TargetCode.NOT_UP_THEN
    return TargetCode.NEVER_SETS if length_s(up) > span_s - 1 else None
