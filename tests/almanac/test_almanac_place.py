"""Place strings, zones, horizons."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nightglass.almanac.codes import ZoneSource
from nightglass.almanac.horizon import horizon, refraction_degrees, seen_altitude_degrees
from nightglass.almanac.place import coordinates, place, zone, zone_cautions
from nightglass.show.plan.night.words import horizon_text, look_again_lines, place_text


@pytest.mark.parametrize(
    "text",
    [
        "52.1 N 4.4 E",
        "52.1N, 4.4E",
        "52.1, 4.4",
        "52.1 4.4",
        "52.1;4.4",
        "+52.1+004.4/",
        "+5206+00424/",
        "+520600+0042400/",
        "geo:52.1,4.4",
        "geo:52.1,4.4;u=35",
        "N 52.1 E 4.4",
        "E 4.4 N 52.1",
        "4.4 E, 52.1 N",
        "52°06'00\"N 4°24'00\"E",
        "52° 6′ N, 4° 24′ E",
        "N 52 06.0 E 4 24.0",
        "52 06 00 N 4 24 00 E",
        "52:06:00, 4:24:00",
        "52 6 4 24",
        "52,1 N 4,4 E",
        "52,1 4,4",
        "52.1 N 4,4 E",
        "52,1 N, 4.4 E",
        "N 52,1, E 4,4",
        "52,1; 4,4",
        "52,1;4.4",
        "lat 52.1 lon 4.4",
        "52.1 north, 4.4 east",
    ],
)
def test_usual_forms_are_read(text):
    assert coordinates(text) == pytest.approx((52.1, 4.4), abs=1e-9)


def test_south_and_west_are_negative():
    assert coordinates("33.87 S 151.21 E") == pytest.approx((-33.87, 151.21))
    assert coordinates("-33.87, -70.5") == pytest.approx((-33.87, -70.5))
    assert coordinates("S33 52.2 W70 30") == pytest.approx((-33.87, -70.5))
    assert coordinates("−0.5, −0.25") == pytest.approx((-0.5, -0.25))
    assert coordinates("-0 30, 10") == pytest.approx((-0.5, 10))


@given(st.integers(-899, 899), st.integers(-1799, 1799), st.sampled_from(".,"), st.booleans())
def test_a_comma_is_a_point_or_refused_never_minutes(latitude, longitude, point, letters):
    """Tenths of degrees, one of the two numbers with a comma: the place itself or no place."""
    north, east = latitude / 10, longitude / 10
    if letters:
        text = f"{abs(north)} {'NS'[north < 0]} {abs(east)} {'EW'[east < 0]}"
    else:
        text = f"{north} {east}"
    head, dot, tail = text.rpartition(".")
    text = head + dot.replace(".", point) + tail
    if point == "," and not letters:
        with pytest.raises(ValueError, match="write it like"):
            coordinates(text)
    else:
        assert coordinates(text) == pytest.approx((north, east), abs=1e-9)


@given(st.floats(-90, 90), st.floats(-180, 180))
def test_printed_places_are_read_back(latitude, longitude):
    there = place(f"{latitude:.4f}, {longitude:.4f}", "UTC")
    again = coordinates(place_text(there))
    assert again == pytest.approx((latitude, longitude), abs=1e-4)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("151.2, -33.9", "latitude 151.2 is not between -90 and 90; the numbers look swapped"),
        ("91 N 4 E", "off the globe: latitude 91"),
        ("10, 181", "longitude 181 is not between -180 and 180"),
        ("-33.9 S 18.4 E", "both a letter and a minus sign: leave one of them out"),
        ("52.1 N 4.4 O", "holds O, which is none of N S E W"),
        ("52.1 N 4.4 N", "needs one of N or S and one of E or W"),
        ("52 61 N 4 E", "minutes and seconds go from 0 to below 60"),
        ("Hillfoot", "none of N S E W"),
        ("52.1", "is not a place that can be read"),
        ("", "is not a place that can be read"),
        ("1 2 3", "is not a place that can be read"),
        ("52.1 4,4", "is not a place that can be read; write it like"),
        ("52 13,4", "is not a place that can be read; write it like"),
        ("52.1 6 N 4 E", "is not a place that can be read; write it like"),
        ("52, 06 N 4, 24 E", "is not a place that can be read; write it like"),
        ("52.1.3, 4", "is not a place that can be read"),
    ],
)
def test_what_is_no_place_is_refused_with_the_reason(text, message):
    with pytest.raises(ValueError, match=message):
        coordinates(text)


def test_a_height_off_the_globe_is_refused():
    with pytest.raises(ValueError, match="height 20000 m is not on the globe's surface"):
        place("52, 4", "UTC", elevation_m=20000)


def test_the_zone_is_guessed_and_said_to_be():
    here = place("52.1 N 4.4 E")
    assert (here.zone_name, here.zone_from) == (
        "Europe/Amsterdam",
        ZoneSource.NEAREST_TOWN,
    )
    ocean = place("-40, -120")
    assert (ocean.zone_name, ocean.zone_from) == ("UTC-8", ZoneSource.LONGITUDE)
    assert place("90, 0").zone_name == "UTC"


def test_zones_by_name_and_by_offset():
    assert zone("UTC+9:30").utcoffset(None).total_seconds() == 9.5 * 3600
    assert zone("UTC-3").utcoffset(None).total_seconds() == -3 * 3600
    assert str(zone("Asia/Tokyo")) == "Asia/Tokyo"


@pytest.mark.parametrize(
    ("name", "message"),
    [
        ("Europe/Amsterdm", 'unknown zone "Europe/Amsterdm"; did you mean Europe/Amsterdam'),
        ("tokyo", "did you mean Asia/Tokyo"),
        ("Mars/Olympus", "Use a name like Europe/Paris or a fixed one like UTC\\+2"),
        ("../etc/passwd", "unknown zone"),
        ("UTC+15", "more than 14 hours from UTC"),
    ],
)
def test_unknown_zones_are_refused(name, message):
    with pytest.raises(ValueError, match=message):
        zone(name)


@pytest.mark.parametrize(
    ("text", "zone_name", "code", "words"),
    [
        ("4.4, 52.1", "Europe/Amsterdam", "coordinates_swapped", "latitude and longitude swapped"),
        ("40.7, 74.0", "America/New_York", "east_west_swapped", "east and west swapped"),
        ("33.9, 18.4", "Africa/Johannesburg", "north_south_swapped", "north and south swapped"),
        ("10, -140", "Asia/Tokyo", "clock_off_the_sun", "Check the zone and the sign"),
    ],
)
def test_odd_places_are_pointed_out(text, zone_name, code, words):
    there = place(text, zone_name)
    assert [caution.code for caution in there.cautions] == [code]
    (line,) = look_again_lines(there)
    assert line.startswith("Look again: ")
    assert words in line


@pytest.mark.parametrize(
    ("text", "zone_name"),
    [
        ("52.1, 4.4", "Europe/Amsterdam"),
        ("39.5, 76.0", "Asia/Shanghai"),  # the widest honest difference: 3 h
        ("1.87, -157.4", "Pacific/Kiritimati"),
        ("-33.87, 151.21", "Australia/Sydney"),
        ("0, 0", "UTC"),
    ],
)
def test_honest_places_raise_no_caution(text, zone_name):
    assert zone_cautions(*coordinates(text), zone_name) == ()


def test_horizons():
    hills = horizon("0:5, 60:12; 120:3\n180:2 # the lake\n240:8\n300:6")
    assert hills.height_at([0, 30, 330, 360]) == pytest.approx([5, 8.5, 5.5, 5])
    assert horizon("7.5°").height_at([1, 200]) == pytest.approx([7.5, 7.5])
    assert horizon_text(hills).startswith("0:5, 60:12")
    assert horizon_text(horizon("3")) == "3° all round"


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("0:5, 90:12, 180:3", "nothing between azimuth 0 and 90; give at least one height every"),
        ("0:5, 60:3, 120:2, 180:3, 240:1", "nothing between azimuth 240 and 0"),
        ("0:5, 60:3, 60:4, 120:2", "azimuth 60 stands there twice, with heights 3 and 4"),
        ("0:5, 60", '"60" is not azimuth:height'),
        ("400:5, 60:2", "azimuth 400 is not between 0 and 360"),
        ("95", "horizon height 95 is not between -5 and 85"),
        ("hill", "is not a number of degrees"),
        ("", "the horizon is empty"),
    ],
)
def test_bad_horizons_are_refused(text, message):
    with pytest.raises(ValueError, match=message):
        horizon(text)


def test_refraction_of_the_textbook():
    # Bennett and Saemundsson, Meeus example 16.a and neighbours [arcminutes]
    assert refraction_degrees([0.5, 0, 10]) * 60 == pytest.approx([28.754, 34.478, 5.392], abs=2e-3)
    true = [33.246 / 60, 0, 10]
    lift = (seen_altitude_degrees(true) - true) * 60
    assert lift == pytest.approx([24.618, 28.982, 5.408], abs=2e-3)
