"""Events against tables of the US Naval Observatory and other outside values."""

import os
import re
import subprocess
import sys
from datetime import UTC, date, datetime, timedelta, timezone
from pathlib import Path

import ephem
import numpy as np
import pytest

from nightglass.almanac.ephemeris import (
    MILKY_WAY_CENTRE,
    DateOutsideEphemerisError,
    Target,
    ephemeris,
)
from nightglass.almanac.horizon import Horizon
from nightglass.almanac.horizontal import look, separation_degrees, topocentric_vectors
from nightglass.almanac.night import nights, solar_noon
from nightglass.almanac.phases import illuminated_share, next_new_moon, phase_names, phases
from nightglass.almanac.place import Place
from nightglass.show.plan.night.words import sun_words

MINUTE = timedelta(minutes=1)
USNO = Path(ephem.__file__).parent / "tests" / "usno"
"""Tables of the US Naval Observatory (public domain) shipped with the library ephem."""


def at(*numbers):
    return datetime(*numbers, tzinfo=UTC)


def place(latitude, longitude, zone_name="UTC", **more):
    return Place("there", latitude, longitude, zone_name=zone_name, **more)


def near(found, expected, tolerance=MINUTE):
    assert found is not None
    assert abs(found - expected) <= tolerance, f"{found} is not {expected}"


def year_table(file, year, hours_behind):
    """(rises, sets) of a rise-set year table, in UTC."""
    rises, sets = [], []
    for line in (USNO / file).read_text().splitlines():
        if not re.match(r"\d\d  ", line):
            continue
        day = int(line[:2])
        for month in range(12):
            cell = line[4 + 11 * month : 13 + 11 * month].ljust(9)
            for text, into in ((cell[:4], rises), (cell[5:9], sets)):
                if text.strip():
                    local = datetime(year, month + 1, day, int(text[:2]), int(text[2:]), tzinfo=UTC)
                    into.append(local + timedelta(hours=hours_behind))
    return rises, sets


def worst_minutes(found, expected):
    found_s = np.array(sorted(t.timestamp() for t in found))
    expected_s = np.array([t.timestamp() for t in expected])
    return np.abs(found_s[:, None] - expected_s[None, :]).min(axis=0).max() / 60


def test_a_year_of_sunrises_agrees_with_the_observatory():
    # USNO, Atlanta 2007, Eastern Standard Time
    rises, sets = year_table("riset_sun.txt", 2007, 5)
    assert len(rises) + len(sets) == 730
    year = nights(place(33 + 46 / 60, -84 - 25 / 60), date(2006, 12, 31), 367)
    assert worst_minutes([n.sunrise for n in year], rises) < 1
    assert worst_minutes([n.sunset for n in year], sets) < 1


def test_a_year_of_moonrises_agrees_with_the_observatory():
    # USNO, Boston 1984, Eastern Standard Time
    rises, sets = year_table("riset_moon.txt", 1984, 5)
    assert len(rises) + len(sets) == 707
    year = nights(place(42 + 19 / 60, -71 - 5 / 60), date(1983, 12, 30), 369)
    assert worst_minutes([t for n in year for t in n.moonrises], rises) < 1
    assert worst_minutes([t for n in year for t in n.moonsets], sets) < 1


def test_fifty_phases_agree_with_the_observatory():
    # USNO, 1980; the table prints whole minutes
    text = (USNO / "moon_phases.txt").read_text()
    entries = re.findall(r"([A-Z][a-z]{2}) +(\d+) +(\d+) +(\d\d)", text)
    expected = sorted(
        datetime.strptime(f"1980 {m} {d} {h} {i}", "%Y %b %d %H %M").replace(tzinfo=UTC)
        for m, d, h, i in entries
    )
    found = phases(at(1980, 1, 1), at(1981, 1, 1))
    assert len(expected) == 50
    for table, (moment, _) in zip(expected, found[: len(expected)], strict=True):
        near(moment, table)


def test_twilights_of_a_night_in_ohio():
    # USNO for Defiance OH, 2019 Nov 8, as kept in skyfield's tests
    here = place(41.281944, -84.362778)
    before, after = nights(here, date(2019, 11, 7), 2)
    near(before.dawn["astronomical"], at(2019, 11, 8, 10, 42))
    near(before.dawn["nautical"], at(2019, 11, 8, 11, 15))
    near(before.dawn["civil"], at(2019, 11, 8, 11, 48))
    near(before.sunrise, at(2019, 11, 8, 12, 17))
    near(after.sunset, at(2019, 11, 8, 22, 25))
    near(after.dusk["civil"], at(2019, 11, 8, 22, 54))
    near(after.dusk["nautical"], at(2019, 11, 8, 23, 27))
    near(after.dusk["astronomical"], at(2019, 11, 8, 23, 59))


def test_a_moon_up_for_half_an_hour_is_not_missed():
    # skyfield's tests: 70 N 0 E, 2023 Feb 19, rise 11:28, set 12:05 UTC
    both = nights(place(70, 0), date(2023, 2, 18), 2)
    near(both[0].moonrises[-1], at(2023, 2, 19, 11, 28))
    near(both[1].moonsets[0], at(2023, 2, 19, 12, 5))


def test_lit_share_by_day():
    # USNO, 2018 Sep 9 to 18 at 05 UT, as kept in skyfield's tests
    expected = [0, 0, 0.03, 0.08, 0.15, 0.24, 0.33, 0.43, 0.52, 0.62]
    times = np.array([at(2018, 9, 9 + k, 5).timestamp() for k in range(10)])
    sky = ephemeris(at(2018, 9, 9), at(2018, 9, 19))
    assert illuminated_share(sky, times) == pytest.approx(expected, abs=0.0055)


def test_lit_share_of_the_textbook():
    # Meeus, Astronomical Algorithms, 2nd ed., example 48.a: 1992 Apr 12 0h TD, k = 0.6786
    sky = ephemeris(at(1992, 4, 11), at(1992, 4, 13))
    time = np.array([at(1992, 4, 12).timestamp() - 58.2])
    assert illuminated_share(sky, time)[0] == pytest.approx(0.6786, abs=2e-4)
    assert phase_names(sky, time) == ["waxing_gibbous"]


@pytest.mark.parametrize(
    ("after", "expected"),
    [
        # USNO time quoted in a news note of 2025
        (at(2025, 5, 20), at(2025, 5, 27, 3, 2)),
        # skyfield, ephem and PyMeeus agree within 12 s
        (at(2026, 8, 1), at(2026, 8, 12, 17, 37)),
        (at(2027, 5, 1), at(2027, 5, 6, 10, 59)),
        (at(2027, 12, 1), at(2027, 12, 27, 20, 12)),
    ],
)
def test_new_moons(after, expected):
    near(next_new_moon(after), expected)


def test_new_moon_of_the_textbook():
    # Meeus, example 49.a: JDE 2443192.65118 (Terrestrial Time, 48 s ahead of UTC in 1977)
    found = next_new_moon(at(1977, 2, 10))
    expected = at(1970, 1, 1) + timedelta(days=2443192.65118 - 2440587.5, seconds=-47.7)
    near(found, expected, timedelta(seconds=30))


def test_place_of_the_moon_from_the_ground():
    # USNO: Atlanta W84 24 36.0 N33 45 36.0, 322 m, 2008 Jul 1 0h UT1
    here = place(33 + 45.6 / 60, -84 - 24.6 / 60, elevation_m=322)
    sky = ephemeris(at(2008, 6, 30), at(2008, 7, 2))
    time = np.array([at(2008, 7, 1).timestamp() + 0.46])  # UT1 was 0.46 s behind UTC
    v = topocentric_vectors(sky, "moon", here, time)[0]
    ra = np.degrees(np.arctan2(v[1], v[0])) % 360
    dec = np.degrees(np.arctan2(v[2], np.hypot(v[0], v[1])))
    assert ra == pytest.approx(15 * (4 + 27 / 60 + 8.925 / 3600), abs=1.0 / 3600)
    assert dec == pytest.approx(25 + 59 / 60 + 7.67 / 3600, abs=1.0 / 3600)
    assert np.linalg.norm(v) == pytest.approx(361552.8, abs=60)  # light time: up to 40 km


@pytest.mark.parametrize(("latitude", "longitude"), [(46.0, 8.0), (-33.9, 151.2), (69.65, 18.96)])
def test_directions_agree_with_a_second_library(latitude, longitude):
    # ephem (libastro) without air; it knows no polar motion either
    here = place(latitude, longitude)
    sky = ephemeris(at(2027, 5, 1), at(2027, 5, 8), (MILKY_WAY_CENTRE,))
    star = ephem.FixedBody()
    star._ra, star._dec = np.radians([MILKY_WAY_CENTRE.ra_degrees, MILKY_WAY_CENTRE.dec_degrees])
    bodies = {"sun": ephem.Sun(), "moon": ephem.Moon(), MILKY_WAY_CENTRE.name: star}
    for moment in (at(2027, 5, 2, 3, 17), at(2027, 5, 7, 22, 41)):
        observer = ephem.Observer()
        observer.lat, observer.lon = str(latitude), str(longitude)
        observer.pressure, observer.elevation = 0, 0
        observer.date = moment.replace(tzinfo=None)
        for name, body in bodies.items():
            body.compute(observer)
            seen = look(sky, name, here, moment.timestamp())
            assert seen.altitude_degrees[0] == pytest.approx(np.degrees(body.alt), abs=0.01)
            turn = (seen.azimuth_degrees[0] - np.degrees(body.az) + 180) % 360 - 180
            assert abs(turn * np.cos(body.alt)) < 0.01


@pytest.mark.parametrize(
    ("latitude", "longitude", "top", "dark"),
    [
        # skyfield, ephem and astropy agree: night of 2026 Jul 14, horizon -34'
        (40, 0, 20.98, (at(2026, 7, 14, 21, 26), at(2026, 7, 15, 2, 46))),
        (52, 5, 8.98, None),
        (-31, 21, 88.02, (at(2026, 7, 14, 17, 16), at(2026, 7, 15, 4, 7))),
    ],
)
def test_the_milky_way_centre_through_a_night(latitude, longitude, top, dark):
    (night,) = nights(place(latitude, longitude), date(2026, 7, 14))
    assert night.target.highest_degrees == pytest.approx(top, abs=0.01)
    if dark is None:
        assert night.dark == ()
        assert sun_words(night) == "No full darkness: the sun goes no lower than -16.4°."
    else:
        near(night.dark[0].start, dark[0])
        near(night.dark[0].end, dark[1])


def test_rise_transit_and_set_of_the_centre():
    # skyfield, ephem and astropy agree: 40 N 0 E
    (night,) = nights(place(40, 0), date(2026, 7, 14))
    near(night.target.rises[0], at(2026, 7, 14, 18, 4))
    near(night.target.highest_at, at(2026, 7, 14, 22, 16))
    near(night.target.sets[0], at(2026, 7, 15, 2, 28))
    assert night.target.highest_azimuth_degrees == pytest.approx(180, abs=0.01)


def test_hills_take_time_from_the_target():
    free, hidden = (
        nights(place(40, 0), date(2026, 7, 14), horizon=h)[0].target
        for h in (Horizon(), Horizon((0.0, 170.0, 190.0), (0.0, 0.0, 15.0)))
    )
    assert hidden.rises[0] > free.rises[0] - MINUTE
    assert hidden.sets[0] < free.sets[0] - timedelta(minutes=30)
    (walled,) = nights(place(40, 0), date(2026, 7, 14), horizon=Horizon((0.0,), (25.0,)))
    assert walled.target.code == "never_rises"
    assert walled.target.best_at is None


@pytest.mark.parametrize(
    ("day", "words"),
    [
        (date(2026, 6, 21), "The sun stays up: there is no night."),
        (date(2026, 12, 21), "The sun stays down; it comes up to -3.1° at noon."),
    ],
)
def test_polar_day_and_polar_night_are_words_not_times(day, words):
    (night,) = nights(place(69.65, 18.96, "Europe/Oslo"), day)
    assert sun_words(night) == words
    assert night.sunset is None
    assert night.sunrise is None
    assert bool(night.dark) is (day.month == 12)


def test_a_northern_summer_night_never_gets_dark():
    (night,) = nights(place(53.55, 10.0, "Europe/Berlin"), date(2026, 6, 21))
    assert night.sunset is not None
    assert night.dusk["astronomical"] is None
    assert sun_words(night) == "No full darkness: the sun goes no lower than -13.0°."


def test_at_the_pole_the_night_lasts_all_day():
    (north,) = nights(place(90, 0), date(2026, 12, 21))
    assert sun_words(north) == "The sun stays down, and it is fully dark all day."
    assert north.dark_hours == pytest.approx(24, abs=0.02)
    (south,) = nights(place(-90, 0), date(2026, 12, 21))
    assert sun_words(south) == "The sun stays up: there is no night."
    assert nights(place(-90, 0), date(2026, 6, 21))[0].target.code == "never_sets"


def test_the_centre_never_rises_in_the_far_north():
    (night,) = nights(place(70, 20), date(2026, 12, 1))
    assert night.target.code == "never_rises"


def test_full_moon_takes_the_whole_night():
    # full moon 2027 Jan 22 12:17 UTC (PyMeeus)
    (night,) = nights(place(40, 0), date(2027, 1, 22))
    assert night.moon_code == "up_all_night"
    assert night.phase == "full_moon"
    assert night.moonless == ()
    assert night.illuminated_share > 0.99


def test_the_date_line_and_clocks_far_from_the_sun():
    # Kiritimati keeps UTC+14 at 157 W: the evening of May 6 there is May 6 04:30 UTC
    island = place(1.87, -157.4, "Pacific/Kiritimati")
    (night,) = nights(island, date(2027, 5, 6))
    assert night.sunset.astimezone(island.zone).date() == date(2027, 5, 6)
    # A clock in UTC in Japan still gets one whole night
    assert nights(place(35, 139, "UTC"), date(2027, 5, 6))[0].dark_hours > 5
    assert solar_noon(place(0, 180, "Pacific/Auckland"), date(2027, 5, 6)) == at(2027, 5, 6)


def test_a_night_with_a_clock_change_keeps_its_length():
    berlin = place(52.5, 13.4, "Europe/Berlin")
    saturday, sunday = nights(berlin, date(2027, 10, 30), 2)
    assert saturday.span.end - saturday.span.start == timedelta(hours=24)
    assert saturday.dark_hours == pytest.approx(sunday.dark_hours, abs=0.1)


@pytest.mark.parametrize("day", [date(1899, 1, 1), date(2060, 1, 1), date(1, 1, 1)])
def test_dates_outside_the_table_say_so(day):
    with pytest.raises(DateOutsideEphemerisError, match="outside the table of sun and moon"):
        nights(place(52, 4), day)


def test_the_ends_of_the_table_still_work():
    assert nights(place(52, 4), date(1980, 1, 1))[0].sunset is not None
    assert nights(place(52, 4), date(2053, 9, 20))[0].sunset is not None


def test_naive_times_are_refused():
    with pytest.raises(ValueError, match="has no time zone; give it one"):
        ephemeris(datetime(2027, 5, 6), datetime(2027, 5, 7))


def test_summer_time_given_as_aware_time_is_the_same_instant():
    east = timezone(timedelta(hours=13))
    one = ephemeris(at(2027, 5, 6), at(2027, 5, 7))
    same = ephemeris(datetime(2027, 5, 6, 13, tzinfo=east), datetime(2027, 5, 7, 13, tzinfo=east))
    time = np.array([at(2027, 5, 6, 12).timestamp()])
    assert np.allclose(one.vectors("moon", time), same.vectors("moon", time), atol=1e-6)


def test_places_between_the_nodes_are_those_of_the_library():
    # Skyfield itself with the full nutation series, called for each time; nodes are 4 h apart
    from nightglass.almanac.ephemeris import _kernel, skyfield_time

    sky = ephemeris(at(2027, 3, 1), at(2027, 4, 1))
    times = at(2027, 3, 1).timestamp() + np.linspace(0, 31 * 86400, 173)
    moments = skyfield_time(times)
    for body, most_arcsec in (("moon", 0.06), ("sun", 0.01)):
        apparent = _kernel()["earth"].at(moments).observe(_kernel()[body]).apparent()
        ra, dec, distance = apparent.radec("date")
        expected = np.stack(
            [
                np.cos(dec.radians) * np.cos(ra.radians),
                np.cos(dec.radians) * np.sin(ra.radians),
                np.sin(dec.radians),
            ],
            axis=1,
        )
        apart = separation_degrees(sky.vectors(body, times), expected) * 3600
        assert apart.max() < most_arcsec
        far = np.linalg.norm(sky.vectors(body, times), axis=1)
        assert far == pytest.approx(distance.km, rel=1e-6)
    turned = np.radians(moments.gast * 15)
    off = (sky.sidereal_rad(times) - turned + np.pi) % (2 * np.pi) - np.pi
    offset = off - off[0]
    assert np.abs(np.degrees(offset)).max() * 3600 < 0.01
    assert (
        np.degrees(np.abs(np.exp(1j * sky.sidereal_rad(times[:1])) - np.exp(1j * turned[:1])))[0]
        * 3600
        < 0.01
    )


def test_moon_and_star_are_as_far_apart_in_either_order():
    # A general library gives 112.66 or 66.93 degrees for this pair by order of arguments
    star = Target("star", 279.23, 38.78)
    sky = ephemeris(at(2026, 8, 12), at(2026, 8, 13), (star,))
    time = np.array([at(2026, 8, 12, 21).timestamp()])
    here = place(46, 8)
    moon = topocentric_vectors(sky, "moon", here, time)
    other = topocentric_vectors(sky, "star", here, time)
    assert separation_degrees(moon, other) == pytest.approx(separation_degrees(other, moon))
    assert separation_degrees(moon, other)[0] == pytest.approx(112.66, abs=0.7)


@pytest.mark.parametrize("height", [0, 2000, 4200])
def test_the_height_of_the_place_does_not_lower_the_horizon(height):
    # The definition is the level horizon at 50'; other tools differ by minutes up there
    low, high = (
        nights(place(46, 8, elevation_m=h), date(2027, 5, 6))[0].sunset for h in (0, height)
    )
    near(high, low, timedelta(seconds=1))


def test_no_network_and_no_home_are_needed(tmp_path):
    code = (
        "import socket\n"
        "def refuse(*a, **k): raise OSError('network touched')\n"
        "socket.socket.connect = refuse; socket.getaddrinfo = refuse\n"
        "from datetime import date\n"
        "from nightglass.almanac.night import nights\n"
        "from nightglass.almanac.place import place\n"
        "n = nights(place('52.1 N 4.4 E'), date(2035, 5, 6))[0]\n"
        "print(n.sunset.isoformat())\n"
    )
    home = tmp_path / "home"
    home.mkdir(mode=0o500)
    environment = {**os.environ, "HOME": str(home), "TMPDIR": "/nonexistent"}
    done = subprocess.run(
        [sys.executable, "-W", "error::RuntimeWarning", "-c", code],
        cwd=home,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith("2035-05-06T19:")
    assert list(home.iterdir()) == []


@pytest.mark.parametrize("count", [0, 801])
def test_the_number_of_nights_is_bounded(count):
    with pytest.raises(ValueError, match="plan 1 to 800 at a time"):
        nights(place(52, 4), date(2027, 1, 1), count)


def test_a_target_off_the_sky_is_refused():
    with pytest.raises(ValueError, match="is no direction in the sky; RA goes from 0 to 360"):
        Target("nowhere", 12, 91)
