"""What a night without the usual events is called, in plain words."""

from __future__ import annotations

from nightglass.almanac.windows import Spans, length_s

SUNSET_DEGREES = -50 / 60
TWILIGHTS = {"civil": -6.0, "nautical": -12.0, "astronomical": -18.0}
DARK_DEGREES = TWILIGHTS["astronomical"]


def sun_words(lowest: float, highest: float) -> str:
    """Return what is unusual about the sun; empty for a night that gets fully dark."""
    if lowest > SUNSET_DEGREES:
        return "The sun stays up: there is no night."
    if lowest > DARK_DEGREES:
        return f"No full darkness: the sun goes no lower than {lowest:.1f}°."
    if highest < DARK_DEGREES:
        return "The sun stays down, and it is fully dark all day."
    if highest < SUNSET_DEGREES:
        return f"The sun stays down; it comes up to {highest:.1f}° at noon."
    return ""


def moon_words(
    dark: Spans,
    moonless: Spans,
    up: Spans,
) -> str:
    """Return whether the moon is up or down the whole night; else empty."""
    if not dark:
        if not up:
            return "The moon stays down all day."
        return "The moon is up all day." if length_s(up) > 86000 else ""
    if not moonless:
        return "The moon is up all night."
    if length_s(moonless) > length_s(dark) - 1:
        return "The moon is down all night."
    return ""


def target_words(
    up: Spans,
    usable: Spans,
    moonless: Spans,
    span_s: float,
) -> str:
    """Return why a target cannot be seen, or that it never sets; else empty."""
    if not up:
        return "never rises above this horizon"
    if not moonless:
        return "no time that is dark and moonless"
    if not usable:
        return "only up in daylight, twilight or moonlight"
    if length_s(up) > span_s - 1:
        return "never sets"
    return ""
