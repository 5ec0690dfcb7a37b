"""The chosen windows as an iCalendar file (RFC 5545): opens in any calendar."""

from __future__ import annotations

import hashlib
from datetime import UTC, datetime

from icalendar import Calendar, Event

from nightglass.plan.night.season import BestRun, Season
from nightglass.show.plan.caution_words import KNOWS_NOT
from nightglass.show.plan.night.text import spans_text
from nightglass.show.plan.night.words import (
    PHASE_WORDS,
    place_text,
)
from nightglass.show.plan.season.words import reason_words, run_span


def season_calendar(season: Season, made: datetime) -> str:
    """Return the calendar's text: one event for each of the best nights, times in UTC.

    made: aware moment of making (DTSTAMP). An event keeps its UID when it is made again, so that
    a calendar replaces it and does not show it twice.
    """
    calendar = Calendar()
    calendar.add("version", "2.0")
    calendar.add("prodid", "-//nightglass//night planner//EN")
    calendar.add("calscale", "GREGORIAN")
    for best in season.best:
        calendar.add_component(_event(season, best, made))
    return calendar.to_ical().decode("utf-8")


def _event(season: Season, best: BestRun, made: datetime) -> Event:
    place, night = season.place, best.night
    key = f"{place.latitude_degrees:.4f} {place.longitude_degrees:.4f} {season.target.name}"
    digest = hashlib.sha256(f"{key} {night.date}".encode()).hexdigest()[:24]
    local = spans_text((best.window,), place)
    event = Event()
    event.add("uid", f"{digest}@nightglass")
    event.add("dtstamp", _utc(made))
    event.add("dtstart", _utc(best.window.start))
    event.add("dtend", _utc(best.window.end))
    event.add("summary", f"Dark sky, {season.target.name} (best nights, no. {best.rank})")
    event.add("location", f"{place.name} ({place_text(place)})")
    event.add("geo", (round(place.latitude_degrees, 6), round(place.longitude_degrees, 6)))
    event.add(
        "description",
        f"{reason_words(best, season)}.\n{local}, {place.zone_name}. Good nights around it: "
        f"{run_span(best)}.\nMoon: {PHASE_WORDS[night.phase]}, "
        f"{100 * night.illuminated_share:.0f} % lit.\n{KNOWS_NOT}",
    )
    event.add("transp", "TRANSPARENT")
    return event


def _utc(at: datetime) -> datetime:
    """Whole seconds of UTC: calendars know no finer ones."""
    return at.astimezone(UTC).replace(microsecond=0)
