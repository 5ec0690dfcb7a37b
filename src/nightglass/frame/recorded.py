"""Exif values as text, turned into numbers, texts and times; what says nothing becomes None.

Definitions of the tags: CIPA DC-008 (Exif 2.32), section 4.6.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import UTC, datetime, timedelta, timezone

NOT_RECORDED = {"", "0", "n/a", "na", "none", "unknown", "null", "65535", "no lens"}
"""Texts that bodies write where an old or adapted lens told them nothing."""
EMPTY_SHAPE = re.compile(r"[-_. ]*|0+(\.0+)? ?mm( f/?0+(\.0+)?)?", re.IGNORECASE)
TIME = re.compile(r"(\d{4}):(\d\d):(\d\d)[ T](\d\d):(\d\d):(\d\d)")
OFFSET = re.compile(r"([+-])(\d\d):([0-5]\d)")
FARTHEST_ZONE_MINUTES = 14 * 60

Recorded = Mapping[str, str]
"""Exif keys with their values as libexiv2 prints them raw: "30/1", "1600", text."""


def number(text: str | None) -> float | None:
    """Return the first number of a raw Exif value; None for 0, x/0, 65535, negative or text."""
    words = (text or "").split()
    if not words:
        return None
    top, _, bottom = words[0].partition("/")
    try:
        value = float(top) / float(bottom or 1)
    except (ValueError, ZeroDivisionError):
        return None
    # The largest 16-bit and 32-bit numbers stand for "not applicable".
    return value if 0 < value < 2**32 - 1 and value != 65535 else None


def says_nothing(text: str | None) -> bool:
    """Whether a raw Exif value is a rational with the denominator 0: written, but no number."""
    words = (text or "").split()
    _, stroke, bottom = words[0].partition("/") if words else ("", "", "")
    return bool(stroke) and bottom.lstrip("+-0") == ""


def is_zero(text: str | None) -> bool:
    """Whether a raw Exif value is the number 0, which bodies write into fields they don't fill."""
    return signed_number(text) == 0.0


def signed_number(text: str | None) -> float | None:
    """Return the first number of a raw Exif value that may be negative (APEX); None for x/0."""
    words = (text or "").split()
    top, _, bottom = words[0].partition("/") if words else ("", "", "")
    try:
        return float(top) / float(bottom or 1)
    except (ValueError, ZeroDivisionError):
        return None


def clean_text(text: str | None) -> str | None:
    """Return a recorded text without padding; None where it says nothing."""
    words = " ".join((text or "").replace("\0", " ").split())
    if words.lower() in NOT_RECORDED or EMPTY_SHAPE.fullmatch(words):
        return None
    return words


def taken_at(
    when: str | None, offset: str | None, subseconds: str | None
) -> tuple[datetime | None, bool]:
    """Return the time and whether its zone is known; a time without a zone stays naive.

    when: "YYYY:MM:DD HH:MM:SS" and nothing else, because a lenient parser takes 2009:03:29 for a
    time of today. offset: "+HH:MM", "-HH:MM" or "Z". subseconds: decimals after the point.
    """
    match = TIME.fullmatch((when or "").strip("\0 "))
    if match is None:
        return None, False
    try:
        taken = datetime(*(int(part) for part in match.groups()))  # type: ignore[arg-type]
    except ValueError:
        return None, False
    digits = (subseconds or "").strip("\0 ")
    if digits.isascii() and digits.isdigit():
        taken = taken.replace(microsecond=int(digits[:6].ljust(6, "0")))
    zone = _zone((offset or "").strip("\0 "))
    return (taken, False) if zone is None else (taken.replace(tzinfo=zone), True)


def _zone(offset: str) -> timezone | None:
    if offset == "Z":
        return UTC
    match = OFFSET.fullmatch(offset)
    if match is None:
        return None
    minutes = 60 * int(match[2]) + int(match[3])
    if minutes > FARTHEST_ZONE_MINUTES:
        return None
    return timezone(timedelta(minutes=-minutes if match[1] == "-" else minutes))
