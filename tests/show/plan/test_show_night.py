"""Night plan and season as text, data, table, calendar and picture."""

import csv
import io
import json
from datetime import UTC, date, datetime

import icalendar
import numpy as np
import pytest

from nightglass.almanac.place import Place, place
from nightglass.plan.codes import CautionCode
from nightglass.plan.night.night import plan_night
from nightglass.plan.night.season import plan_season
from nightglass.show.plan.night.data import night_data
from nightglass.show.plan.night.text import clock, night_lines, nights_table
from nightglass.show.plan.season.calendar import season_calendar
from nightglass.show.plan.season.chart import COLOURS, TARGET_COLOUR, night_spans, season_chart
from nightglass.show.plan.season.files import season_csv, season_data, write_season
from nightglass.show.plan.season.text import COLUMNS, season_lines
from nightglass.show.plan.season.words import reason_words, run_span

DUTCH = place("52.1 N 4.4 E", "Europe/Amsterdam", name="Coast, west; of \\ town ★")
MADE = datetime(2026, 11, 25, 1, 2, 3, tzinfo=UTC)


@pytest.fixture(scope="module")
def season():
    return plan_season(DUTCH, date(2027, 3, 1), 90)


def test_the_plan_in_text_says_what_matters():
    text = "\n".join(night_lines(plan_night(DUTCH, date(2027, 5, 6))))
    for words in (
        "Night of Thursday 06 May 2027",
        "Times are local: Europe/Amsterdam, CEST, UTC+02:00; UTC in brackets.",
        "sunset / sunrise             21:15 (19:15)  06:02 (04:02)",
        "The moon is down all night.",
        "at 8.9° in the south",
        "blue hour",
        "Never point a laser",
        "nothing of the ground, the weather, other people or the law",
    ):
        assert words in text, words


def test_times_are_rounded_to_the_nearest_minute():
    assert clock(datetime(2027, 5, 6, 19, 15, 31, tzinfo=UTC), DUTCH) == "21:16"
    assert clock(datetime(2027, 5, 6, 19, 15, 29, tzinfo=UTC), DUTCH) == "21:15"


def test_words_for_nights_without_events():
    text = "\n".join(night_lines(plan_night(Place("north", 70, 20), date(2027, 6, 20))))
    assert "The sun stays up: there is no night." in text
    assert "no stars" in text
    assert "Never rises above this horizon." in text


def test_a_clock_change_is_said():
    text = "\n".join(night_lines(plan_night(DUTCH, date(2027, 10, 30))))
    assert "The clock goes back by 1 h in this night; each time is as it shows." in text
    text = "\n".join(night_lines(plan_night(DUTCH, date(2027, 3, 27))))
    assert "The clock goes forward by 1 h in this night" in text


def test_zones_without_letters_and_the_pole():
    island = place("1.87 N 157.4 W", "Pacific/Kiritimati")
    text = "\n".join(night_lines(plan_night(island, date(2027, 5, 6))))
    assert "Times are local: Pacific/Kiritimati, UTC+14:00; UTC in brackets." in text
    text = "\n".join(night_lines(plan_night(Place("pole", 90, 0), date(2026, 12, 21))))
    assert "just off it on this longitude" in text
    assert "does not rise, does not set" in text


def test_a_guessed_zone_is_named_as_such():
    text = "\n".join(night_lines(plan_night(place("52.1 N 4.4 E"), date(2027, 5, 6))))
    assert "guessed from the nearest town of the zone table; name yours with --zone" in text


def test_plain_data_has_no_odd_numbers_and_both_times():
    data = night_data(plan_night(DUTCH, date(2027, 5, 6)))
    again = json.loads(json.dumps(data, allow_nan=False))
    assert again["sun"]["sunset"]["utc"].startswith("2027-05-06T19:15:2")
    assert again["sun"]["sunset"]["local"].startswith("2027-05-06T21:15:2")
    assert again["sun"]["sunset"]["local"].endswith("+02:00")
    assert again["dark_and_moonless_hours"] == pytest.approx(3.26, abs=0.02)
    assert (again["moon"]["phase"], again["moon"]["code"]) == ("waxing_crescent", "down_all_night")
    assert again["sun"]["code"] is None
    assert again["cautions"] == [code.value for code in CautionCode]


def test_a_span_of_nights_is_a_table():
    plans = [plan_night(DUTCH, date(2027, 5, d)) for d in (6, 7)]
    rows = nights_table(plans)
    assert len(rows) == 3
    assert {len(r) for r in rows} == {7}


def test_the_calendar_opens_in_a_calendar(season):
    text = season_calendar(season, MADE)
    calendar = icalendar.Calendar.from_ical(text)
    events = calendar.walk("VEVENT")
    assert len(events) == len(season.best) == 3
    for event, best in zip(events, season.best, strict=True):
        assert abs((event.decoded("DTSTART") - best.window.start).total_seconds()) < 1
        assert abs((event.decoded("DTEND") - best.window.end).total_seconds()) < 1
        assert event.decoded("DTSTAMP") == MADE
        assert "Coast, west; of \\ town ★" in str(event["LOCATION"])
        assert reason_words(best, season) in str(event["DESCRIPTION"])
        assert run_span(best) in str(event["DESCRIPTION"])
    assert len({str(e["UID"]) for e in events}) == 3


def test_the_calendar_keeps_the_rules_of_the_standard(season):
    text = season_calendar(season, MADE)
    lines = text.split("\r\n")
    assert lines[0] == "BEGIN:VCALENDAR"
    assert "VERSION:2.0" in lines
    assert lines[-1] == ""
    assert "\n" not in text.replace("\r\n", "")
    assert all(len(line.encode()) <= 75 for line in lines)
    assert text == season_calendar(season, MADE)


def test_a_name_with_special_letters_is_escaped(season):
    # RFC 5545, 3.1 (folded lines begin with a space) and 3.3.11 (TEXT), read without a library.
    lines = season_calendar(season, MADE).replace("\r\n ", "").split("\r\n")
    place = next(line for line in lines if line.startswith("LOCATION:"))
    assert "Coast\\, west\\; of \\\\ town ★" in place
    story = next(line for line in lines if line.startswith("DESCRIPTION:"))
    assert story.count("\\n") == 3


def test_the_table_of_the_season(season):
    rows = list(csv.reader(io.StringIO(season_csv(season))))
    assert rows[0] == list(COLUMNS)
    assert len(rows) == 91
    assert {len(r) for r in rows} == {len(COLUMNS)}
    assert rows[1][0] == "2027-03-01"


def test_the_season_in_text_and_data(season):
    text = "\n".join(season_lines(season))
    assert "The best nights, best first" in text
    best = "1 Sat 01 May 2027 01:47 to 03:37 1.8 7° south-south-east 5 days before"
    assert best in " ".join(text.split())
    assert "27 April to 10 May 2027" in text
    assert "an hour low in the sky counts for less, as the air takes its light." in text
    data = json.loads(json.dumps(season_data(season), allow_nan=False))
    assert len(data["best"]) == 3
    first = data["best"][0]
    assert (first["date"], first["first"], first["last"]) == (
        "2027-05-01", "2027-04-27", "2027-05-10",
    )  # fmt: skip
    assert (data["code"], first["hours"]) == (None, pytest.approx(1.83, abs=0.02))
    assert set(data["nights"][0]) == set(COLUMNS)


def test_the_picture_shows_every_kind_of_night(season):
    drawn = json.dumps(season_chart(season).to_dict())
    for words in ("twilight", "dark, moon up", "dark, moon down", "up in the dark"):
        assert words in drawn


def test_each_number_stands_on_its_own_wedge(season):
    chart = season_chart(season).to_dict()
    marks = chart["vconcat"][0]["layer"]
    by_kind = {layer["mark"]["type"]: chart["datasets"][layer["data"]["name"]] for layer in marks}
    assert by_kind["point"] == by_kind["text"]
    assert [(row["from"][:10], row["rank"]) for row in by_kind["text"]] == [
        (best.night.date.isoformat(), str(best.rank)) for best in season.best
    ]
    bars = {(row["from"], row["to"]) for row in by_kind["rule"]}
    assert ("2027-04-27", "2027-05-11") in bars


def test_spans_in_words(season):
    assert [run_span(best) for best in season.best] == [
        "27 April to 10 May 2027", "31 March to 12 April 2027", "5 to 15 March 2027",
    ]  # fmt: skip


def test_files_are_written(season, tmp_path):
    short = plan_season(DUTCH, date(2027, 5, 1), 8)
    paths = write_season(short, tmp_path / "new")
    assert [p.suffix for p in paths] == [".svg", ".png", ".csv", ".ics"]
    assert paths[0].read_text().startswith("<svg")
    assert paths[1].read_bytes().startswith(b"\x89PNG")
    assert b"\r\n" in paths[3].read_bytes()
    assert b"\r\r" not in paths[3].read_bytes()


def lightness(colour):
    """CIE L* of an sRGB colour, both as the source of the library colour has them."""
    channels = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    y = sum(share * c for share, c in zip((0.2126, 0.7152, 0.0722), linear, strict=True))
    return 116 * y ** (1 / 3) - 16 if y > 0.008856 else 903.3 * y


def test_a_grey_print_keeps_the_kinds_of_light_apart():
    levels = sorted(lightness(c) for c in (*COLOURS.values(), TARGET_COLOUR))
    assert min(np.diff(levels)) > 10


def test_the_polar_night_fills_its_days_on_the_picture():
    # The sun's noon at 25 E stands at 11:20 by the clock of UTC+1: the spans begin there.
    there = Place("70 N", 70.0, 25.0, zone_name="UTC+1")
    season = plan_season(there, date(2027, 12, 20), 3)
    rows = [r for n in season.nights for r in night_spans(n) if r["kind"] == "twilight"]
    middle = [(r["start"], r["end"]) for r in rows if r["from"] == "2027-12-21"]
    assert min(middle)[0] == 12
    assert sorted(middle)[-1][1] == 36
    assert sum(end - start for start, end in middle) == pytest.approx(24, abs=0.02)
