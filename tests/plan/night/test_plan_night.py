"""The night plan: hours, moonlight, land, cautions; and the season."""

import math
from datetime import date, timedelta
from itertools import pairwise

import pytest

from nightglass.almanac.ephemeris import Target
from nightglass.almanac.horizon import Horizon
from nightglass.almanac.place import Place, place
from nightglass.light.defaults import SKY_BRIGHTNESS
from nightglass.plan.codes import CautionCode, SeasonCode
from nightglass.plan.night.core import core_in_night
from nightglass.plan.night.land import land_exposure, land_focus
from nightglass.plan.night.night import clock_hours, plan_night
from nightglass.plan.night.season import LEAST_HOURS, plan_season
from nightglass.show.plan.caution_words import CAUTIONS, short_cautions, whole_cautions
from nightglass.show.plan.night.words import compass
from nightglass.show.plan.season.words import moon_distance, season_words

DUTCH = Place("coast", 52.1, 4.4, zone_name="Europe/Amsterdam")
KAROO = Place("karoo", -31.0, 21.0, zone_name="Africa/Johannesburg")


def test_hours_are_clock_hours_of_the_place():
    plan = plan_night(DUTCH, date(2027, 5, 6))
    assert [h.at.hour for h in plan.hours] == [22, 23, 0, 1, 2, 3, 4, 5, 6]
    assert all(h.at.minute == 0 for h in plan.hours)
    assert plan.hours[0].at.utcoffset() == timedelta(hours=2)


def test_hours_of_a_zone_off_by_half_an_hour():
    plan = plan_night(place("28.6 N 77.2 E", "Asia/Kolkata"), date(2027, 5, 6))
    assert all(h.at.minute == 0 for h in plan.hours)


def test_the_hour_of_a_clock_change_comes_twice():
    plan = plan_night(DUTCH, date(2027, 10, 30))
    assert [h.at.hour for h in plan.hours].count(2) == 2
    assert [h.at.hour for h in plan_night(DUTCH, date(2027, 3, 27)).hours].count(2) == 0


def test_no_hours_where_the_sun_stays_up():
    plan = plan_night(Place("north", 70, 20), date(2027, 6, 20))
    assert plan.hours == ()
    assert clock_hours(plan.night) == []
    assert plan.land.code == "sun_does_not_pass"


def test_moonlight_costs_stops_while_the_moon_is_up():
    plan = plan_night(KAROO, date(2027, 6, 14))
    with_moon = [h for h in plan.hours if h.sky is not None and h.moon_degrees > 5]
    without = [h for h in plan.hours if h.sky is not None and h.moon_degrees < 0]
    assert with_moon
    assert without
    assert all(h.sky.cost_stops > 1 for h in with_moon)
    assert all(h.sky.cost_stops == 0 for h in without)
    assert plan.moon_cost_stops == max(h.sky.cost_stops for h in with_moon)
    assert plan.sky_assumed.dark_zenith_mag == SKY_BRIGHTNESS.value


def test_a_moonless_night_has_no_moonlight_cost():
    assert plan_night(DUTCH, date(2027, 5, 6)).moon_cost_stops is None


def test_blue_hour_is_the_sun_from_4_to_8_degrees_down():
    plan = plan_night(DUTCH, date(2027, 5, 6))
    evening, morning = plan.land.evening_blue_hour, plan.land.morning_blue_hour
    night = plan.night
    assert night.sunset < evening.start < night.dusk["civil"] < evening.end
    assert evening.end < night.dusk["nautical"]
    assert night.dawn["nautical"] < morning.start < night.dawn["civil"] < morning.end
    assert 0.4 < evening.hours < 0.7


def test_cautions_are_whole_once_and_short_where_they_repeat():
    assert list(CAUTIONS) == list(CautionCode)
    text = " ".join(whole_cautions())
    short = " ".join(short_cautions())
    assert len(short) < len(text) / 2
    for word in (
        "daylight",
        "company",
        "tell someone",
        "weather",
        "roads",
        "laser",
        "sun",
        "local",
    ):
        assert word in short
    for word in ("moonless", "alone", "weather", "tides", "traffic", "batteries", "laser", "law"):
        assert word in text
    assert "access" in text
    assert "cold" in text.lower()


def test_hyperfocal_focus_and_the_stars():
    # H = f^2 / (N c) + f (tests/optics/test_optics_defocus.py); trade: 24 mm f/1.4 on 36 x 24 with
    # c = 0.03 mm is 13.7 m and blurs stars by 0.125 % of height; c = diagonal / 1500
    focus = land_focus(24, 1.4, 36, 24)
    circle = math.hypot(36, 24) / 1500
    assert focus.circle_mm == pytest.approx(0.02884, abs=1e-5)
    assert focus.hyperfocal_m == pytest.approx((24**2 / (2**0.5 * circle) + 24) / 1000)
    assert focus.star_blur_percent == pytest.approx(100 * circle / 24)
    assert focus.near_limit_m == pytest.approx(focus.hyperfocal_m / 2)
    assert focus.star_hyperfocal_m > 6 * focus.hyperfocal_m


def test_land_by_moonlight_and_by_starlight():
    # Common practice: the full moon is 135 times starlight, the half moon 1/11 of the full one
    full = land_exposure(2.8, 1600, 90, 0)
    half = land_exposure(2.8, 1600, 90, 90)
    dark = land_exposure(2.8, 1600, -10, 0)
    assert full.illuminance_lux / dark.illuminance_lux == pytest.approx(136, abs=2)
    ratio = (half.illuminance_lux - 0.002) / (full.illuminance_lux - 0.002)
    assert 1 / ratio == pytest.approx(11, abs=0.5)
    # Incident meter: t = C N^2 / (E S), C = 250, N = 2^1.5, one stop under
    assert dark.exposure_s == pytest.approx(0.5 * 250 * 8 / (0.002 * 1600))
    assert (dark.source, full.source) == ("starlight", "moonlight")
    with pytest.raises(ValueError, match="ISO 0; it must be above 0"):
        land_exposure(2.8, 0, 10, 0)


def test_points_of_the_compass():
    assert [compass(a) for a in (0, 44, 181, 350, 360, -90)] == [
        "north", "north-east", "south", "north", "north", "west",
    ]  # fmt: skip


@pytest.fixture(scope="module")
def year():
    return plan_season(KAROO, date(2026, 11, 29), 365)


def test_each_entry_is_one_moonless_run(year):
    assert [b.rank for b in year.best] == list(range(1, 11))
    worth = dict(zip([n.date for n in year.nights], year.worth_hours, strict=True))
    chosen = [worth[b.night.date] for b in year.best]
    assert chosen == sorted(chosen, reverse=True)
    assert chosen[0] == max(worth.values())
    evenings = sorted(b.night.date for b in year.best)
    # New moons are 29.3 to 29.8 days apart; best nights drift from one side of it to the other.
    assert all(20 <= (b - a).days <= 36 for a, b in pairwise(evenings))
    spans = sorted((b.first, b.last) for b in year.best)
    assert all(end < start for (_, end), (start, _) in pairwise(spans))
    # New moon 2027 Jun 4 19:40 and Jul 4 03:02 UTC (skyfield, ephem, PyMeeus)
    first, second = year.best[:2]
    assert first.first <= date(2027, 6, 4) <= first.last
    assert second.first <= date(2027, 7, 4) <= second.last
    assert first.days_from_new_moon == pytest.approx(
        (first.night.date - date(2027, 6, 4)).days, abs=1
    )


def test_the_span_holds_the_nights_that_are_half_as_good(year):
    worth = dict(zip([n.date for n in year.nights], year.worth_hours, strict=True))
    for run in year.best:
        least = worth[run.night.date] / 2
        inside = [run.first + timedelta(days=k) for k in range(run.nights)]
        assert run.night.date in inside
        assert all(worth[day] >= least for day in inside)
        assert worth.get(run.first - timedelta(days=1), 0.0) < least
        assert worth.get(run.last + timedelta(days=1), 0.0) < least


def test_a_night_of_minutes_is_no_entry():
    # In the north the centre clears the horizon for minutes at the ends of its season
    season = plan_season(DUTCH, date(2027, 1, 1), 365)
    assert any(0 < hours < LEAST_HOURS for hours in season.target_hours)
    assert len(season.best) == 6
    assert all(b.hours >= LEAST_HOURS for b in season.best)


def test_the_core_says_when_it_is_up_and_else_when_next():
    up = core_in_night(plan_night(DUTCH, date(2027, 5, 6)).night, Horizon())
    assert up.code == "up"
    assert up.altitude_degrees == pytest.approx(0, abs=0.05)
    assert up.next_window is None
    moonlit = core_in_night(plan_night(KAROO, date(2027, 6, 18)).night, Horizon())
    assert moonlit.code == "up_in_moonlight"
    assert moonlit.altitude_degrees == pytest.approx(20.6, abs=0.1)
    autumn = core_in_night(plan_night(DUTCH, date(2026, 11, 29)).night, Horizon())
    assert autumn.code == "not_up"
    assert autumn.window is None
    # The first night of the season with half an hour, found night by night
    season = plan_season(DUTCH, date(2026, 11, 30), 120)
    first = next(n for n, h in zip(season.nights, season.target_hours, strict=True) if h >= 0.5)
    assert autumn.next_window == first.target.up_and_dark[0]
    never = core_in_night(plan_night(Place("north", 70, 20), date(2027, 1, 6)).night, Horizon())
    assert (never.code, never.next_window) == ("not_up", None)


def test_worth_hours_are_hours_less_what_the_air_takes():
    season = plan_season(KAROO, date(2027, 6, 4), 3)
    for worth, hours in zip(season.worth_hours, season.target_hours, strict=True):
        assert 0.75 * hours < worth < hours


def test_a_target_that_never_rises_leaves_the_dark_hours():
    season = plan_season(Place("far north", 72, 20), date(2027, 11, 20), 40)
    assert season.code is SeasonCode.TARGET_NEVER_IN_THE_DARK
    assert "is never up for half an hour of dark, moonless time here" in season_words(season)
    assert season.best[0].hours == pytest.approx(season.best[0].night.moonless_hours)


def test_no_dark_nights_no_best_ones():
    season = plan_season(DUTCH, date(2027, 6, 10), 20)
    assert season.best == ()
    assert season.code is SeasonCode.NO_MOONLESS_DARK
    assert season_words(season) == "No night here has half an hour that is dark and moonless."


def test_any_target_and_any_horizon():
    pole = Target("pole", 0.0, 89.9)
    season = plan_season(DUTCH, date(2027, 12, 20), 5, pole, Horizon((0.0,), (20.0,)))
    assert season.nights[0].target.code in ("never_sets", "no_moonless_dark")


def test_distance_from_new_moon_in_words():
    assert [moon_distance(d) for d in (0.2, -1.2, 2.6)] == [
        "new moon", "1 day before new moon", "3 days after new moon",
    ]  # fmt: skip
