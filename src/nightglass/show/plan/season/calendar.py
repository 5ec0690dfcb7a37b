"""The chosen windows as an iCalendar file (RFC 5545): opens in any calendar."""

from __future__ import annotations

import hashlib
from datetime import UTC, datetime

from nightglass.plan.cautions import KNOWS_NOT
from nightglass.plan.night.season import BestNight, Season
from nightglass.show.plan.night.text import spans_text

LINE_OCTETS = 75
"""RFC 5545, 3.1: lines are folded before they are longer, the line break not counted."""


def season_calendar(season: Season, made: datetime) -> str:
    """Return the calendar's text: one event for each of the best nights, times in UTC.

    made: aware moment of making (DTSTAMP). An event keeps its UID when it is made again, so that
    a calendar replaces it and does not show it twice.
    """
    lines = [
        "BEGIN:VCALENDAR",
        "VERSION:2.0",
        "PRODID:-//nightglass//night planner//EN",
        "CALSCALE:GREGORIAN",
    ]
    for best in season.best:
        lines += _event(season, best, made)
    lines.append("END:VCALENDAR")
    return "".join(folded(line) for line in lines)


def folded(line: str) -> str:
    """Return a content line folded to 75 octets and ended by CR LF (RFC 5545, 3.1)."""
    pieces: list[str] = []
    piece, size = "", 0
    for letter in line:
        octets = len(letter.encode())
        # Folded lines begin with a space that counts; a letter is never cut in two.
        if size + octets > LINE_OCTETS:
            pieces.append(piece)
            piece, size = " ", 1
        piece, size = piece + letter, size + octets
    return "\r\n".join([*pieces, piece]) + "\r\n"


def escaped(text: str) -> str:
    """Return a TEXT value with its special letters escaped (RFC 5545, 3.3.11)."""
    for letter in ("\\", ";", ","):
        text = text.replace(letter, "\\" + letter)
    return text.replace("\r\n", "\\n").replace("\n", "\\n")


def _event(season: Season, best: BestNight, made: datetime) -> list[str]:
    place, night = season.place, best.night
    key = f"{place.latitude_degrees:.4f} {place.longitude_degrees:.4f} {season.target.name}"
    digest = hashlib.sha256(f"{key} {night.date}".encode()).hexdigest()[:24]
    local = spans_text((best.window,), place)
    story = (
        f"{best.reason}.\n{local}, {place.zone_name}.\nMoon: {night.phase_name}, "
        f"{100 * night.illuminated_share:.0f} % lit.\n{KNOWS_NOT}"
    )
    return [
        "BEGIN:VEVENT",
        f"UID:{digest}@nightglass",
        f"DTSTAMP:{_utc(made)}",
        f"DTSTART:{_utc(best.window.start)}",
        f"DTEND:{_utc(best.window.end)}",
        f"SUMMARY:{escaped(f'Dark sky, {season.target.name} (best nights, no. {best.rank})')}",
        f"LOCATION:{escaped(f'{place.name} ({place.text})')}",
        f"GEO:{place.latitude_degrees:.6f};{place.longitude_degrees:.6f}",
        f"DESCRIPTION:{escaped(story)}",
        "TRANSP:TRANSPARENT",
        "END:VEVENT",
    ]


def _utc(at: datetime) -> str:
    return f"{at.astimezone(UTC):%Y%m%dT%H%M%SZ}"
