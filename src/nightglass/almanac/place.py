"""A place on the globe, read from what a person types, and held against its time zone.

Sign rule: north and east are positive. Letters N S E W may stand before or after a number and
then no minus sign is allowed beside them. Without letters the latitude comes first.
"""

from __future__ import annotations

import difflib
import math
import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone, tzinfo
from functools import cache
from importlib import resources
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from nightglass.almanac.codes import PlaceCaution, PlaceCautionCode, ZoneSource

NEAR_ENOUGH_KM = 1500.0
"""A zone is only guessed from a town nearer than this; open sea and poles use the longitude."""
OFFSET_ODD_HOURS = 3.2
"""Western China keeps a clock 3 hours off its sun; more than that is odd."""

FORMS = (
    'write it like "52.1 N 4.4 E", "-33.87, 151.21" (latitude first, north and east positive), '
    '"52°06\'30\\"N 4°24\'E", "N 52 06.5 E 4 24.0", "geo:52.1,4.4" or "+52.1+004.4/"'
)


@dataclass(frozen=True)
class Place:
    """Where the tripod stands; north and east positive, height above sea level."""

    name: str
    latitude_degrees: float
    longitude_degrees: float
    elevation_m: float = 0.0
    zone_name: str = "UTC"
    zone_from: ZoneSource = ZoneSource.GIVEN
    cautions: tuple[PlaceCaution, ...] = ()
    """What looks odd about place and zone."""

    @property
    def zone(self) -> tzinfo:
        """The time zone of the clock on the wall."""
        return zone(self.zone_name)


def place(text: str, zone_name: str | None = None, name: str = "", elevation_m: float = 0) -> Place:
    """Return the place that a coordinate string and an optional zone name describe.

    Without a zone the one of the nearest town in the zone table is taken and `zone_from` says
    so; far from any town the whole hour nearest to the longitude. Raises ValueError for strings
    that are no coordinates, for places off the globe and for unknown zones.
    """
    latitude, longitude = coordinates(text)
    if not -500 <= elevation_m <= 9000:
        raise ValueError(
            f"height {elevation_m:g} m is not on the globe's surface; allowed are -500 to 9000 m"
        )
    source = ZoneSource.GIVEN
    if zone_name is None:
        zone_name, source = _guessed_zone(latitude, longitude)
    zone(zone_name)
    cautions = zone_cautions(latitude, longitude, zone_name) if source is ZoneSource.GIVEN else ()
    label = name or text.strip()
    return Place(label, latitude, longitude, float(elevation_m), zone_name, source, cautions)


def coordinates(text: str) -> tuple[float, float]:
    """Return (latitude, longitude) in degrees, north and east positive.

    Raises ValueError when the text is no place, with the usual forms.
    """
    cleaned = _cleaned(text)
    iso = re.fullmatch(r"([+-]\d+(?:\.\d+)?)([+-]\d+(?:\.\d+)?)(?:[+-]\d+(?:\.\d+)?)?/?", cleaned)
    if iso:
        return _on_globe(_iso_angle(iso[1], 2), _iso_angle(iso[2], 3), text)
    cleaned = cleaned.rstrip("/")
    letters = re.findall(r"[A-Z]", cleaned)
    if letters:
        return _with_letters(cleaned, letters, text)
    groups = [part for part in re.split(r"[,;]", cleaned) if part.strip()]
    if len(groups) == 1:
        numbers = groups[0].split()
        if len(numbers) not in (2, 4, 6):
            raise ValueError(f'"{text}" is not a place that can be read; {FORMS}')
        half = len(numbers) // 2
        groups = [" ".join(numbers[:half]), " ".join(numbers[half:])]
    parts = [len(group.split()) for group in groups]
    # "52 13,4": 52 and 13.4, or 52 degrees 13 minutes and 4? Nothing tells.
    unclear = len(set(parts)) > 1 and re.search(r"\d,\d", cleaned)
    if len(groups) != 2 or unclear:
        raise ValueError(f'"{text}" is not a place that can be read; {FORMS}')
    return _on_globe(_angle(groups[0], text), _angle(groups[1], text), text)


def zone(name: str) -> tzinfo:
    """Return the time zone of an IANA name ("Europe/Paris") or a fixed offset ("UTC+9:30").

    Raises ValueError for unknown names, with near ones.
    """
    fixed = re.fullmatch(r"UTC\s*([+-]\d{1,2})(?::?([0-5]\d))?", name.strip())
    if fixed:
        minutes = abs(int(fixed[1])) * 60 + int(fixed[2] or 0)
        if minutes > 14 * 60:
            raise ValueError(f'zone "{name}" is more than 14 hours from UTC; no clock is')
        signed = -minutes if fixed[1].startswith("-") else minutes
        return timezone(timedelta(minutes=signed), name.strip())
    if name.strip() == "UTC":
        return UTC
    try:
        return ZoneInfo(name.strip())
    except (ZoneInfoNotFoundError, ValueError, IsADirectoryError, PermissionError):
        near = _near_names(name)
        hint = f"; did you mean {' or '.join(near)}?" if near else ""
        raise ValueError(
            f'unknown zone "{name}"{hint or "."} Use a name like Europe/Paris or a fixed one like '
            "UTC+2"
        ) from None


def zone_cautions(latitude: float, longitude: float, zone_name: str) -> tuple[PlaceCaution, ...]:
    """Return what looks odd about a place in a zone: nothing for most places.

    The zone's winter offset is held against the sun's time at the longitude; where they are more
    than 3.2 hours apart, or the place with numbers swapped or with a sign turned lies at the
    zone's own town, that is said.
    """
    offset = standard_offset_hours(zone_name)
    apart = _hours_apart(offset, longitude / 15)
    towns = [t for t in _towns() if t[0] == zone_name]
    if towns:
        here = min(_distance_km(latitude, longitude, t[1], t[2]) for t in towns)
        for code, lat, lon in (
            (PlaceCautionCode.COORDINATES_SWAPPED, longitude, latitude),
            (PlaceCautionCode.EAST_WEST_SWAPPED, latitude, -longitude),
            (PlaceCautionCode.NORTH_SOUTH_SWAPPED, -latitude, longitude),
        ):
            if abs(lat) > 90 or here < NEAR_ENOUGH_KM:
                continue
            there = min(_distance_km(lat, lon, t[1], t[2]) for t in towns)
            if there < min(NEAR_ENOUGH_KM, here / 4):
                km: dict[str, float | str] = {
                    "zone": zone_name,
                    "here_km": here,
                    "swapped_km": there,
                }
                return (PlaceCaution(code, km),)
    if apart > OFFSET_ODD_HOURS:
        hours: dict[str, float | str] = {
            "zone": zone_name,
            "offset_h": offset,
            "off_the_sun_h": apart,
        }
        return (PlaceCaution(PlaceCautionCode.CLOCK_OFF_THE_SUN, hours),)
    return ()


def standard_offset_hours(zone_name: str, year: int = 2026) -> float:
    """Return the offset from UTC of a zone outside summer time [hours]."""
    there = zone(zone_name)
    offsets = [datetime(year, month, 1, tzinfo=there).utcoffset() for month in (1, 7)]
    return min(o.total_seconds() for o in offsets if o is not None) / 3600


def _cleaned(text: str) -> str:
    cleaned = text.strip().removeprefix("geo:").split(";u=")[0].upper()
    for words, letter in (("NORTH", "N"), ("SOUTH", "S"), ("EAST", "E"), ("WEST", "W")):
        cleaned = re.sub(rf"\b{words}\b", letter, cleaned)
    cleaned = re.sub(r"\b(LATITUDE|LAT|LONGITUDE|LON|LONG)\b\.?\s*[:=]?", " ", cleaned)
    cleaned = cleaned.replace("−", "-").replace("–", "-")
    cleaned = re.sub(r"[°º˚'′’\"″”:]|\bDEG\b", " ", cleaned)
    tight = re.findall(r"(?<=\d),(?=\d)", cleaned)
    # With letters or a semicolon between the two numbers a comma inside one is always decimal.
    apart = bool(re.search(r"[NSEW;]", cleaned))
    if tight and (apart or (len(tight) >= 2 and "." not in cleaned and re.search(r"\s", cleaned))):
        cleaned = re.sub(r"(?<=\d),(?=\d)", ".", cleaned)
    return cleaned.strip()


def _with_letters(cleaned: str, letters: list[str], text: str) -> tuple[float, float]:
    odd = sorted(set(letters) - set("NSEW"))
    if odd:
        raise ValueError(f'"{text}" holds {", ".join(odd)}, which is none of N S E W; {FORMS}')
    if len(letters) != 2 or len(set(letters) & set("NS")) != 1 or letters[0] == letters[1]:
        raise ValueError(f'"{text}" needs one of N or S and one of E or W; {FORMS}')
    # Commas part the two numbers, beside a letter; one inside a number is refused there.
    body = re.sub(r"\s*[,;]\s*(?=[NSEW])|(?<=[NSEW])\s*[,;]\s*", " ", cleaned)
    before = re.fullmatch(r"\s*([NSEW])([^NSEW]+)([NSEW])([^NSEW]+)", body)
    after = re.fullmatch(r"([^NSEW]+)([NSEW])([^NSEW]+)([NSEW])\s*", body)
    if before:
        parts = {before[1]: before[2], before[3]: before[4]}
    elif after:
        parts = {after[2]: after[1], after[4]: after[3]}
    else:
        raise ValueError(f'"{text}" is not a place that can be read; {FORMS}')
    values = {letter: _angle(number, text) for letter, number in parts.items()}
    if any(v < 0 for v in values.values()):
        raise ValueError(
            f'"{text}" has both a letter and a minus sign: leave one of them out '
            "(S and W already mean negative)"
        )
    latitude = values["N"] if "N" in values else -values["S"]
    longitude = values["E"] if "E" in values else -values["W"]
    return _on_globe(latitude, longitude, text)


def _angle(part: str, text: str) -> float:
    """Degrees from "52.1", "52 06.5" or "52 06 30"."""
    numbers = part.split()
    valid = 1 <= len(numbers) <= 3 and re.fullmatch(r"[+-]?\d+(\.\d*)?", numbers[0])
    # Only the last of degrees, minutes and seconds has decimals.
    whole = all("." not in number for number in numbers[:-1])
    if not valid or not whole or not all(re.fullmatch(r"\d+(\.\d*)?", n) for n in numbers[1:]):
        raise ValueError(f'"{text}" is not a place that can be read; {FORMS}')
    if any(float(n) >= 60 for n in numbers[1:]):
        raise ValueError(f'"{text}": minutes and seconds go from 0 to below 60')
    size = sum(abs(float(n)) / 60**k for k, n in enumerate(numbers))
    return -size if numbers[0].startswith("-") else size


def _iso_angle(token: str, degree_digits: int) -> float:
    """Degrees of ISO 6709: +DD.D, +DDMM.M or +DDMMSS.S, told apart by the number of digits."""
    sign = -1.0 if token[0] == "-" else 1.0
    whole, _, fraction = token[1:].partition(".")
    rest = whole[degree_digits:] if len(whole) > degree_digits else ""
    degrees = whole[:degree_digits] if rest else whole
    pieces = [degrees, *(rest[i : i + 2] for i in range(0, len(rest), 2))]
    if fraction:
        pieces[-1] += "." + fraction
    return sign * sum(float(p) / 60**k for k, p in enumerate(pieces))


def _on_globe(latitude: float, longitude: float, text: str) -> tuple[float, float]:
    if abs(latitude) > 90:
        swapped = (
            "; the numbers look swapped, the latitude comes first"
            if (abs(longitude) <= 90 and abs(latitude) <= 180)
            else ""
        )
        raise ValueError(
            f'"{text}" is off the globe: latitude {latitude:g} is not between -90 and 90{swapped}'
        )
    if abs(longitude) > 180:
        raise ValueError(
            f'"{text}" is off the globe: longitude {longitude:g} is not between -180 and 180 '
            "(west is negative)"
        )
    return latitude, longitude


def _guessed_zone(latitude: float, longitude: float) -> tuple[str, ZoneSource]:
    distance, name = min((_distance_km(latitude, longitude, t[1], t[2]), t[0]) for t in _towns())
    if distance <= NEAR_ENOUGH_KM and abs(latitude) < 85:
        return name, ZoneSource.NEAREST_TOWN
    hours = round(longitude / 15)
    return ("UTC" if hours == 0 else f"UTC{hours:+d}"), ZoneSource.LONGITUDE


@cache
def _towns() -> tuple[tuple[str, float, float], ...]:
    """(zone, latitude, longitude) of the principal town of each zone, from the IANA table."""
    table = resources.files("tzdata.zoneinfo").joinpath("zone.tab").read_text(encoding="utf-8")
    rows = [line.split("\t") for line in table.splitlines() if line and not line.startswith("#")]
    found = []
    for row in rows:
        match = re.fullmatch(r"([+-]\d+)([+-]\d+)", row[1])
        if match:
            found.append((row[2], _iso_angle(match[1], 2), _iso_angle(match[2], 3)))
    return tuple(found)


def _near_names(name: str) -> list[str]:
    names = {t[0] for t in _towns()}
    lower = {n.lower().rsplit("/", 1)[-1]: n for n in names} | {n.lower(): n for n in names}
    near = difflib.get_close_matches(name.strip().lower().replace(" ", "_"), list(lower), n=2)
    return list(dict.fromkeys(lower[n] for n in near))


def _distance_km(lat1: float, lon1: float, lat2: float, lon2: float) -> float:
    a, b = math.radians(lat1), math.radians(lat2)
    half = math.sin((a - b) / 2) ** 2
    half += math.cos(a) * math.cos(b) * math.sin(math.radians(lon1 - lon2) / 2) ** 2
    return 2 * 6371.0 * math.asin(min(1.0, math.sqrt(half)))


def _hours_apart(one: float, other: float) -> float:
    return abs((one - other + 12) % 24 - 12)
