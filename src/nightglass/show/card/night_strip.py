"""The strip for tonight on the field card, filled from a night plan."""

from __future__ import annotations

from datetime import datetime

from nightglass.almanac.place import Place
from nightglass.almanac.unusual import SUNSET_DEGREES
from nightglass.plan.codes import CoreCode
from nightglass.plan.night.core import CoreInNight, core_in_night
from nightglass.plan.night.night import NightPlan
from nightglass.show.card.record import NightHour, NightStrip
from nightglass.show.plan.night.text import clock, spans_text
from nightglass.show.plan.night.words import PHASE_WORDS, compass, moon_words, sun_words

MOST_HOURS = 8


def night_strip(plan: NightPlan) -> NightStrip:
    """Return what the card says of the night: dark from-to, moon, from when the target is up.

    Hours are those that are dark with the target up, at most eight, the low ones left out; times
    are local, the zone is named.
    """
    night, place = plan.night, plan.night.place
    hours = [h for h in plan.hours if h.target_above_horizon and _within(plan, h.at)]
    while len(hours) > MOST_HOURS:
        hours = hours[1:] if hours[0].target_degrees < hours[-1].target_degrees else hours[:-1]
    dark = spans_text(night.moonless, place)
    if not dark:
        dark = sun_words(night) or moon_words(night.moon_code) or "no dark hour without moon"
    return NightStrip(
        place=place.name,
        night_of=night.date,
        zone=place.zone_name,
        dark=dark,
        moon=_moon(plan),
        core=core_words(core_in_night(night, plan.horizon), place),
        hours=tuple(
            NightHour(f"{h.at:%H:%M}", h.target_degrees, compass(h.target_azimuth_degrees))
            for h in hours
        ),
    )


def core_words(core: CoreInNight, place: Place) -> str:
    """Return from when a target is up in the dark, how high and where; else when next."""
    if core.window is None or core.altitude_degrees is None:
        return f"not up in the dark tonight; {_next_words(core, place)}"
    where = compass(core.azimuth_degrees or 0.0)
    high = f"{core.altitude_degrees:.0f}° high" if core.altitude_degrees >= 0.5 else "rising"
    words = f"from {clock(core.window.start, place)}, {high} in the {where}"
    if core.code is CoreCode.UP_IN_MOONLIGHT:
        return f"{words}, but in moonlight; moonless {_next_words(core, place)}"
    return f"{words}, to {clock(core.window.end, place)}"


def _next_words(core: CoreInNight, place: Place) -> str:
    if core.next_window is None:
        return "nor in the coming year"
    at = core.next_window.start
    day = datetime.fromtimestamp(at.timestamp() + 30, place.zone)
    return f"next on {day.day} {day:%B}, {clock(at, place)}"


def _within(plan: NightPlan, at: datetime) -> bool:
    return any(w.start <= at <= w.end for w in plan.night.dark)


def _moon(plan: NightPlan) -> str:
    night, place = plan.night, plan.night.place
    parts = [f"{PHASE_WORDS[night.phase]}, {100 * night.illuminated_share:.0f} % lit"]
    if night.sun_lowest_degrees > SUNSET_DEGREES:
        return parts[0]
    if night.moon_code is not None:
        words = moon_words(night.moon_code).rstrip(".")
        parts.append(words.removeprefix("The moon ").removeprefix("is "))
        return ", ".join(parts)
    parts += [f"rises {clock(t, place)}" for t in night.moonrises]
    parts += [f"sets {clock(t, place)}" for t in night.moonsets]
    return ", ".join(parts)
