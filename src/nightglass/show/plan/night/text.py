"""A night plan as text for a terminal: lines, no colour, readable with any font."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime

from nightglass.almanac.codes import SunCode, ZoneSource
from nightglass.almanac.night import Night
from nightglass.almanac.place import Place
from nightglass.almanac.unusual import TWILIGHTS
from nightglass.almanac.windows import Window
from nightglass.light.moonlight import MODEL_ACCURACY_PERCENT
from nightglass.plan.night.night import HourSky, NightPlan
from nightglass.show.columns import Facts, Heading, Part, Table, lines_of
from nightglass.show.plan.caution_words import whole_cautions
from nightglass.show.plan.night.land_words import BLUE_HOUR_WORDS
from nightglass.show.plan.night.words import (
    PHASE_WORDS,
    compass,
    horizon_text,
    look_again_lines,
    moon_words,
    night_words,
    place_text,
    sun_words,
    target_words,
)

ZONE_WORDS: dict[ZoneSource, str] = {
    ZoneSource.GIVEN: "",
    ZoneSource.NEAREST_TOWN: " (guessed from the nearest town of the zone table; name yours with "
    "--zone)",
    ZoneSource.LONGITUDE: " (whole hour nearest to the longitude; name yours with --zone)",
}


def night_lines(plan: NightPlan, width: int | None = None) -> list[str]:
    """Return the plan as lines; width: of the terminal, None for a file."""
    return list(lines_of(night_parts(plan), width))


def night_parts(plan: NightPlan) -> list[Part]:
    """Return the whole plan; times local with the zone named, and UTC."""
    night = plan.night
    parts: list[Part] = [
        f"Night of {night.date:%A %d %B %Y} at {night.place.name} ({place_text(night.place)})",
        zone_line(night.place, night.sun_lowest_at),
        *_clock_change(night),
        *look_again_lines(night.place),
        "",
        *_sun_parts(night),
        *_moon_lines(plan),
        "",
        _dark_facts(night),
        "",
        *_target_parts(plan),
    ]
    if plan.hours:
        parts += ["", _hour_table(plan.hours)]
    return [*parts, "", *_land_lines(plan), "", *whole_cautions()]


def nights_lines(plans: Sequence[NightPlan], width: int | None = None) -> list[str]:
    """Return the nights as lines; width: of the terminal, None for a file."""
    return list(lines_of(nights_parts(plans), width))


def nights_parts(plans: Sequence[NightPlan]) -> list[Part]:
    """Return a table of nights, and the cautions."""
    titles, *rows = map(tuple, nights_table(plans))
    return [Table(titles, tuple(rows), indent=""), "", *whole_cautions()]


def nights_table(plans: Sequence[NightPlan]) -> list[list[str]]:
    """Return header and rows, one per night: for a span of dates."""
    rows = [["night of", "dark", "dark and moonless", "moon", "lit", "target best", "words"]]
    for plan in plans:
        night = plan.night
        place = night.place
        best = ""
        if night.target.best_at is not None and night.target.best_degrees is not None:
            best = f"{clock(night.target.best_at, place)} {night.target.best_degrees:.0f}°"
        rows.append(
            [
                f"{night.date:%a %d %b %Y}",
                f"{night.dark_hours:.1f} h",
                spans_text(night.moonless, place) or "none",
                PHASE_WORDS[night.phase],
                f"{100 * night.illuminated_share:.0f} %",
                best or target_words(night.target.code) or "none",
                night_words(night),
            ]
        )
    return rows


def zone_line(place: Place, at: datetime) -> str:
    """Return which clock is meant, and how the zone was found."""
    how = ZONE_WORDS[place.zone_from]
    return f"Times are local: {zone_words(place, at)}{how}; UTC in brackets."


def zone_words(place: Place, at: datetime) -> str:
    """Return the zone's name and its offset at a moment."""
    local = at.astimezone(place.zone)
    name = local.tzname() or place.zone_name
    offset = local.strftime("%z")
    # Zones without letters of their own are called "+14" by the table.
    known = name == place.zone_name or name[:1] in "+-"
    title = place.zone_name if known else f"{place.zone_name}, {name}"
    return f"{title}, UTC{offset[:3]}:{offset[3:]}"


def clock(at: datetime, place: Place) -> str:
    """Return the local time to the nearest minute."""
    local = at.timestamp() + 30
    return f"{datetime.fromtimestamp(local, place.zone):%H:%M}"


def both(at: datetime | None, place: Place) -> str:
    """Return local time and UTC, or a dash."""
    if at is None:
        return "-"
    utc = f"{datetime.fromtimestamp(at.timestamp() + 30, UTC):%H:%M}"
    return f"{clock(at, place)} ({utc})"


def spans_text(windows: tuple[Window, ...], place: Place) -> str:
    """Return windows as from-to in local time; empty for none."""
    return ", ".join(
        "all day" if w.hours > 23.9 else f"{clock(w.start, place)} to {clock(w.end, place)}"
        for w in windows
    )


def _clock_change(night: Night) -> list[str]:
    before = night.span.start.astimezone(night.place.zone).utcoffset()
    after = night.span.end.astimezone(night.place.zone).utcoffset()
    if before is None or after is None or before == after:
        return []
    hours = (after - before).total_seconds() / 3600
    turned = "forward" if hours > 0 else "back"
    return [f"The clock goes {turned} by {abs(hours):g} h in this night; each time is as it shows."]


def _sun_parts(night: Night) -> list[Part]:
    place = night.place
    rows = [("sunset / sunrise", night.sunset, night.sunrise)]
    rows += [
        (f"{name} twilight ({-level:g}°)", night.dusk[name], night.dawn[name])
        for name, level in TWILIGHTS.items()
    ]
    table = Table(
        ("Sun", "evening", "morning"),
        tuple((label, both(a, place), both(b, place)) for label, a, b in rows),
    )
    return [table] if night.sun_code is None else [table, f"  {sun_words(night)}"]


def _moon_lines(plan: NightPlan) -> list[str]:
    night = plan.night
    rises = ", ".join(f"rises {both(t, night.place)}" for t in night.moonrises)
    sets = ", ".join(f"sets {both(t, night.place)}" for t in night.moonsets)
    lines = [
        f"  Moon: {PHASE_WORDS[night.phase]}, {100 * night.illuminated_share:.0f} % lit; "
        f"{rises or 'does not rise'}, {sets or 'does not set'}"
    ]
    if night.moon_code is not None:
        lines.append(f"  {moon_words(night.moon_code)}")
    costs = [
        f"{stops:.1f} stops {where}"
        for stops, where in (
            (plan.moon_cost_stops, "at the target"),
            (plan.moon_cost_overhead_stops, "overhead"),
        )
        if stops is not None
    ]
    if costs:
        low, high = MODEL_ACCURACY_PERCENT
        lines.append(
            f"  Moonlight costs up to {', '.join(costs)}, in clear air; the model is good to "
            f"{low:g} to {high:g} % (Krisciunas & Schaefer 1991)"
        )
    return lines


def _dark_facts(night: Night) -> Facts:
    dark = spans_text(night.dark, night.place) or "none"
    moonless = spans_text(night.moonless, night.place) or "none"
    return Facts(
        (
            ("Dark (sun below -18°)", f"{dark}; {night.dark_hours:.1f} h"),
            ("Dark and moon down", f"{moonless}; {night.moonless_hours:.1f} h"),
        )
    )


def _target_parts(plan: NightPlan) -> list[Part]:
    night, target, place = plan.night, plan.night.target, plan.night.place
    name = target.target.name[:1].upper() + target.target.name[1:]
    lines: list[Part] = [Heading(f"  {name}, above a horizon of {horizon_text(plan.horizon)}")]
    if target.code is not None:
        lines.append(f"  {target_words(target.code).capitalize()}.")
    facts = []
    if target.up:
        facts.append(("up", spans_text(target.up, place)))
        usable = spans_text(target.up_and_dark, place) or "none"
        facts.append(("up, dark and moonless", usable))
    highest = _stands(target.highest_at, place, target.highest_degrees)
    facts.append(("highest", f"{highest} in the {compass(target.highest_azimuth_degrees)}"))
    if target.best_at is not None and target.best_degrees is not None:
        best = _stands(target.best_at, place, target.best_degrees)
        where = compass(target.best_azimuth_degrees or 0.0)
        facts.append(("best while dark and moonless", f"{best} in the {where}"))
    lines.append(Facts(tuple(facts)))
    if abs(night.place.latitude_degrees) > 89.5:
        lines.append("  At the pole directions are those of a place just off it on this longitude.")
    if night.sun_code is SunCode.STAYS_UP:
        lines.append("  The sky is bright all the time: no stars.")
    return lines


def _stands(at: datetime | None, place: Place, height_degrees: float) -> str:
    return f"{both(at, place)} at {height_degrees:.1f}°"


def _hour_table(hours: Sequence[HourSky]) -> Table:
    titles = (
        "hour", "sun", "moon", "target", "direction", "sky at target", "moon costs", "overhead",
        "moon costs there",
    )  # fmt: skip
    numbers = tuple(title for title in titles if title not in ("hour", "direction"))
    return Table(titles, tuple(_hour_row(hour) for hour in hours), numbers)


def _hour_row(hour: HourSky) -> tuple[str, ...]:
    target = f"{hour.target_degrees:.0f}°" if hour.target_above_horizon else "down"
    moon = f"{hour.moon_degrees:.0f}°" if hour.moon_degrees > 0 else "down"
    direction = compass(hour.target_azimuth_degrees) if hour.target_above_horizon else ""
    sky = cost = overhead = cost_overhead = ""
    if hour.sky is not None:
        sky, cost = f"{hour.sky.moonlit_mag:.1f}", _cost(hour.sky.cost_stops)
    if hour.overhead is not None:
        overhead = f"{hour.overhead.moonlit_mag:.1f}"
        cost_overhead = _cost(hour.overhead.cost_stops)
    return (
        f"{hour.at:%H:%M}", f"{hour.sun_degrees:.0f}°", moon, target, direction, sky, cost,
        overhead, cost_overhead,
    )  # fmt: skip


def _cost(stops: float) -> str:
    return f"{stops:.1f} stops" if stops >= 0.05 else "nothing"


def _land_lines(plan: NightPlan) -> list[str]:
    place, land = plan.night.place, plan.land
    if land.code is not None:
        return [f"  Land: {BLUE_HOUR_WORDS[land.code]}"]
    parts = [
        f"{name} {spans_text((window,), place)}"
        for name, window in (
            ("evening", land.evening_blue_hour),
            ("morning", land.morning_blue_hour),
        )
        if window is not None
    ]
    lines = [f"  Land, blue hour (sun -4° to -8°, common practice): {'; '.join(parts)}"]
    assumed = plan.sky_assumed
    lines.append(
        f"  Sky without moon taken as {assumed.dark_zenith_mag:g} mag per square arcsecond at the "
        f"zenith, extinction {assumed.extinction_mag:g} mag"
    )
    return lines
