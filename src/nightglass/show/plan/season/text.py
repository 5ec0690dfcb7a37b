"""The season as lines of text and as rows for a table or CSV."""

from __future__ import annotations

from nightglass.almanac.night import Night
from nightglass.plan.night.season import Season
from nightglass.show.columns import Heading, Part, Table, lines_of
from nightglass.show.plan.caution_words import whole_cautions
from nightglass.show.plan.night.text import clock, spans_text, zone_line
from nightglass.show.plan.night.words import (
    PHASE_WORDS,
    horizon_text,
    look_again_lines,
    night_words,
    place_text,
)
from nightglass.show.plan.season.words import (
    height_words,
    moon_distance,
    order_words,
    run_span,
    season_words,
)

COLUMNS = (
    "night_of",
    "sunset_utc",
    "sunrise_utc",
    "dark_hours",
    "dark_and_moonless_hours",
    "target_dark_and_moonless_hours",
    "worth_hours",
    "dark_and_moonless_local",
    "target_local",
    "target_best_local",
    "target_best_degrees",
    "moon_phase",
    "moon_lit_percent",
    "words",
)


def season_lines(season: Season, width: int | None = None) -> list[str]:
    """Return the season as lines; width: of the terminal, None for a file."""
    return list(lines_of(season_parts(season), width))


def season_parts(season: Season) -> list[Part]:
    """Return the best runs with their reasons and order, hours in all, and the cautions."""
    first, last = season.nights[0].date, season.nights[-1].date
    place = season.place
    lines: list[Part] = [
        f"{len(season.nights)} nights at {place.name} ({place_text(place)}), {first:%d %B %Y} to "
        f"{last:%d %B %Y}",
        zone_line(place, season.nights[0].sun_lowest_at),
        *look_again_lines(place),
        f"For the {season.target.name}, above a horizon of {horizon_text(season.horizon)}",
        "",
    ]
    if season.code is not None:
        lines += [f"  {season_words(season)}", ""]
    if season.best:
        lines += [Heading("  The best nights, best first"), _best_table(season)]
        lines += ["", *(f"  {words}" for words in order_words(season))]
    total = sum(season.target_hours)
    going = sum(h > 0.5 for h in season.target_hours)
    if season.code is not None:
        return [*lines, "", *whole_cautions()]
    lines += [
        "",
        f"  {going} nights have it up, dark and moonless for more than half an hour; {total:.0f} h "
        "in all.",
    ]
    return [*lines, "", *whole_cautions()]


def _best_table(season: Season) -> Table:
    titles = (
        "", "best night", "from to", "hours", "up to", "moon", "nights at least half as good",
    )  # fmt: skip
    rows = (
        (
            str(best.rank),
            f"{best.night.date:%a %d %b %Y}",
            spans_text((best.window,), season.place),
            f"{best.hours:.1f}",
            height_words(best, season),
            moon_distance(best.days_from_new_moon),
            run_span(best),
        )
        for best in season.best
    )
    return Table(titles, tuple(rows), ("", "hours"))


def season_rows(season: Season) -> list[list[str]]:
    """Return the head COLUMNS and one row for each night, for CSV; empty where nothing is."""
    rows = [list(COLUMNS)]
    for night, hours, worth in zip(
        season.nights, season.target_hours, season.worth_hours, strict=True
    ):
        rows.append(_row(night, hours, worth))
    return rows


def _row(night: Night, hours: float, worth: float) -> list[str]:
    target, place = night.target, night.place
    best = "" if target.best_at is None else clock(target.best_at, place)
    height = "" if target.best_degrees is None else f"{target.best_degrees:.1f}"
    return [
        night.date.isoformat(),
        "" if night.sunset is None else f"{night.sunset:%Y-%m-%dT%H:%M:%SZ}",
        "" if night.sunrise is None else f"{night.sunrise:%Y-%m-%dT%H:%M:%SZ}",
        f"{night.dark_hours:.2f}",
        f"{night.moonless_hours:.2f}",
        f"{hours:.2f}",
        f"{worth:.2f}",
        spans_text(night.moonless, place),
        spans_text(target.up_and_dark, place),
        best,
        height,
        PHASE_WORDS[night.phase],
        f"{100 * night.illuminated_share:.0f}",
        night_words(night),
    ]
