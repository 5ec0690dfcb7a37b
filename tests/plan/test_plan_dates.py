"""Dates, targets and places that a person types."""

from datetime import date

import pytest

from nightglass.gear.benchfile import Site
from nightglass.plan.dates import day, span
from nightglass.plan.targets import target
from nightglass.plan.where import where


@pytest.mark.parametrize(
    ("text", "first", "count"),
    [
        ("2027-05-06", date(2027, 5, 6), 1),
        ("2027-05-06..2027-05-08", date(2027, 5, 6), 3),
        ("2028-02", date(2028, 2, 1), 29),
        ("2027", date(2027, 1, 1), 365),
        ("2028", date(2028, 1, 1), 366),
    ],
)
def test_dates_and_spans(text, first, count):
    assert span(text) == (first, count)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("2027-02-30", "February 2027 has 28 days; day 30 does not exist"),
        ("2027-13-01", "there is no month 13"),
        ("6 May 2027", "is not a date; write year-month-day"),
        ("0000-05-06", "there is no year 0"),
        ("2027-05-06..2027-05-01", "the last date lies before the first"),
        ("2027-05-06..2031-05-01", "plan 800 at most at a time"),
    ],
)
def test_dates_that_no_calendar_has(text, message):
    with pytest.raises(ValueError, match=message):
        span(text)


def test_one_day():
    assert day(" 2027-5-6 ") == date(2027, 5, 6)


@pytest.mark.parametrize(
    "text",
    [
        "266.41683 -29.00781",
        "266.41683, -29.00781",
        "17h45m40.04s -29d00m28.1s",
        "17:45:40.04 -29:00:28.1",
        "17 45 40.04 -29 00 28.1",
        "17h45m40.04s −29°00′28.1″",
        "centre of the Milky Way",
        "Center of the Milky Way",
    ],
)
def test_targets_in_usual_forms(text):
    found = target(text)
    assert found.ra_degrees == pytest.approx(266.4168, abs=1e-3)
    assert found.dec_degrees == pytest.approx(-29.0078, abs=1e-3)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("somewhere nice", "is no direction in the sky; write degrees"),
        ("266", "is no direction in the sky"),
        ("17h61m -29d", "minutes and seconds go from 0 to below 60"),
        ("400 10", "RA goes from 0 to 360"),
        ("10 95", "Dec from -90 to 90"),
    ],
)
def test_what_is_no_target(text, message):
    with pytest.raises(ValueError, match=message):
        target(text)


def test_the_kept_site_serves_until_another_place_is_typed(tmp_path):
    kept = Site("46.5 N 8.0 E", "Europe/Zurich", 1800.0, ((0.0, 5.0), (90.0, 12.0)))
    with pytest.raises(ValueError, match="nothing between azimuth 0 and 90"):
        where(None, site=kept)
    here = where(None, site=Site("46.5 N 8.0 E", "Europe/Zurich", 1800.0, 7.0))
    assert (here.place.zone_name, here.place.elevation_m) == ("Europe/Zurich", 1800.0)
    assert here.horizon.heights_degrees == (7.0,)
    away = where("33.9 S 18.4 E", site=Site("46.5 N 8.0 E", "Europe/Zurich", 1800.0, 7.0))
    assert away.place.elevation_m == 0
    assert away.place.zone_name.startswith("Africa/")
    assert away.horizon.heights_degrees == (0.0,)
    table = tmp_path / "hills.txt"
    table.write_text("0:5\n60:12\n120:3\n180:2\n240:8\n300:6\n")
    assert where("46 N 8 E", horizon_text=str(table)).horizon.height_at(60) == 12


def test_no_place_at_all():
    with pytest.raises(ValueError, match="no place given; say where"):
        where(None)
