"""The strip for tonight on the field card, filled from a night plan."""

from __future__ import annotations

from datetime import datetime, timedelta

from nightglass.almanac.nightwords import SUNSET_DEGREES
from nightglass.plan.night.night import NightPlan, compass
from nightglass.show.card.record import NightHour, NightStrip
from nightglass.show.plan.night.text import clock, spans_text

MOST_HOURS = 8


def night_strip(plan: NightPlan) -> NightStrip:
    """Return what the card says of the night: dark from-to, moon, target by the hour.

    Hours are those that are dark, at most eight about the middle of the night, with the target
    up or down as it is; times are local, the zone is named.
    """
    night, place = plan.night, plan.night.place
    hours = [h for h in plan.hours if _within(plan, h.at)]
    while len(hours) > MOST_HOURS:
        hours = hours[1:] if hours[0].target_degrees < hours[-1].target_degrees else hours[:-1]
    dark = spans_text(night.moonless, place)
    if not dark:
        dark = night.sun_words or night.moon_words or "no dark hour without moon"
    return NightStrip(
        place=place.name,
        night_of=night.date,
        zone=place.zone_name,
        dark=dark,
        moon=_moon(plan),
        hours=tuple(
            NightHour(f"{h.at:%H:%M}", h.target_degrees, compass(h.target_azimuth_degrees))
            for h in hours
        ),
    )


def _within(plan: NightPlan, at: datetime) -> bool:
    slack = timedelta(minutes=30)
    return any(w.start - slack <= at <= w.end + slack for w in plan.night.dark)


def _moon(plan: NightPlan) -> str:
    night, place = plan.night, plan.night.place
    parts = [f"{night.phase_name}, {100 * night.illuminated_share:.0f} % lit"]
    if night.sun_lowest_degrees > SUNSET_DEGREES:
        return parts[0]
    if night.moon_words:
        parts.append(night.moon_words.rstrip(".").lower())
        return ", ".join(parts)
    parts += [f"rises {clock(t, place)}" for t in night.moonrises]
    parts += [f"sets {clock(t, place)}" for t in night.moonsets]
    return ", ".join(parts)
