"""Pictures, lists and the card's strip of the night planner."""

import json
import re
from datetime import date

import numpy as np
import pytest

from nightglass.almanac.horizon import Horizon, seen_altitude_degrees
from nightglass.almanac.horizontal import horizontal, icrs_from_galactic
from nightglass.almanac.place import Place
from nightglass.gear.body import Body
from nightglass.plan.aim import aim_wish, local_time
from nightglass.plan.camera import Pointing, Shot
from nightglass.plan.night.land import land_focus
from nightglass.plan.night.night import plan_night
from nightglass.plan.night.tonight import plan_tonight
from nightglass.plan.night.wished_tonight import TonightPlan
from nightglass.plan.panorama.area import box
from nightglass.plan.panorama.panorama import Pace, plan_panorama
from nightglass.plan.panorama.sky import inside_band_degrees, sky_then
from nightglass.plan.panorama.wished import PanoramaPlan
from nightglass.plan.stack import StackGoal, plan_stack
from nightglass.plan.where import Where
from nightglass.plan.wished_stack import WishedStack
from nightglass.show.card.night_strip import night_strip
from nightglass.show.iso_words import HOW_TO_KNOW
from nightglass.show.plan.night.tonight_picture import tonight_picture
from nightglass.show.plan.night.tonight_text import settings_data, tonight_data, tonight_lines
from nightglass.show.plan.panorama.picture import panorama_picture
from nightglass.show.plan.panorama.stack import stack_data, stack_line, stack_lines
from nightglass.show.plan.panorama.text import (
    panorama_data,
    panorama_line,
    panorama_lines,
    phone_list,
)
from nightglass.show.svg import columns_path

FULL = Body("full", 6.0, 6000, 4000)
CAPE = Place("Cape <1>", -33.9, 18.4, zone_name="Africa/Johannesburg")
AT = local_time("22:30", CAPE, date(2027, 6, 4))


@pytest.fixture(scope="module")
def tonight():
    wish = aim_wish("centre of the Milky Way in the left third")
    return plan_tonight(Shot(FULL, 20, 1.8), CAPE, AT, wish, Horizon((0.0,), (4.0,)))


@pytest.fixture(scope="module")
def panorama():
    shot = Shot(FULL, 35, 1.4, portrait=True)
    return plan_panorama(shot, box(350, 150, -5, 60), Pace(10))


def test_the_frame_says_its_times_and_escapes_names(tonight):
    svg = tonight_picture(tonight)
    words = " ".join(re.findall(r">([^<]+)</text>", svg))
    assert f"shortest: {tonight.shortest.longest_s:.0f} s" in svg
    assert "Milky Way&#x27;s centre" in svg
    assert "Cape &lt;1&gt;" in svg
    times = tonight.times
    assert f"with remote {times.centre.remote_s:.0f} s" in svg
    assert f"{times.corners.remote_s:.0f} s if every place must hold" in words
    assert "nan" not in svg
    assert "inf" not in svg


def test_the_fisheye_and_the_turned_frame_are_drawn():
    shot = Shot(FULL, 8, 2.8, "equisolid", portrait=True)
    plan = plan_tonight(shot, CAPE, AT, aim_wish("180 60", 15), roll_degrees=15)
    svg = tonight_picture(plan)
    assert "turned 15°" in svg
    assert "nan" not in svg


def test_settings_as_text_and_data(tonight):
    planned = TonightPlan(tonight, land_focus(20, 1.8, 36, 24), None, ())
    text = "\n".join(tonight_lines(planned))
    times = tonight.times
    assert f"with remote    {times.centre.remote_s:.0f} s; 18 s if every place must hold" in text
    assert "360 rule: 360 / focal length" in text
    assert "No laser near aircraft" in text
    assert f"ISO            not known; {HOW_TO_KNOW}" in text
    data = json.loads(json.dumps(tonight_data(planned), allow_nan=False))
    # 17.56 s to the nearest second, within 7 %.
    assert (data["other_remote_s"], data["holds_at"]) == (18, "centre")
    assert data["limit_s"] == pytest.approx(tonight.centre.longest_s, abs=1e-3)
    assert data["shortest"]["longest_s"] == pytest.approx(tonight.shortest.longest_s, abs=1e-3)


def test_a_time_without_end_is_null():
    pole = plan_tonight(Shot(FULL, 20, 1.8), CAPE, AT, aim_wish("180 33.9"))
    json.dumps(settings_data(pole), allow_nan=False)
    tonight_picture(pole)


def test_covered_columns_follow_the_zero_line():
    x, y = np.array([0.0, 1.0, 2.0]), np.array([0.0, 1.0, 2.0, 3.0])
    values = y[:, None] - np.array([0.5, 1.5, np.nan])[None, :]
    data = columns_path(x, y, values)
    assert data.count("M") == 2
    tops = [float(t) for t in re.findall(r"M[-\d.]+,([\d.]+)", data)]
    assert tops == [0.5, 1.5]


def test_the_panorama_is_drawn_with_every_number(panorama):
    svg = panorama_picture(panorama, sky_then(CAPE, AT, Horizon()))
    for frame in panorama.frames:
        assert f">{frame.number}</text>" in svg
    assert "nan" not in svg
    assert "stroke-dasharray" in svg
    assert panorama_picture(panorama).count("<circle") == 0


@pytest.mark.parametrize("degrees", [-12.0, -9.0, 0.0, 9.5, 11.0])
def test_the_band_is_where_galactic_latitude_says(degrees):
    then = sky_then(CAPE, AT, Horizon())
    longitude = np.arange(0.0, 360.0, 7.0)
    icrs = icrs_from_galactic(longitude, np.full_like(longitude, degrees))
    altitude, azimuth = horizontal(icrs, CAPE, AT)
    up = altitude > 1
    inside = inside_band_degrees(then, seen_altitude_degrees(altitude[up]), azimuth[up])
    # Aberration bends places by 0.006 degrees, the two formulas for the air differ by less.
    assert inside == pytest.approx(10 - abs(degrees), abs=0.02)


def test_numbers_near_the_zenith_stay_on_the_picture():
    plan = plan_panorama(Shot(FULL, 24, 1.4, portrait=True), box(180, 360, 0, 90), Pace(10))
    svg = panorama_picture(plan)
    heights = [
        float(y) for y in re.findall(r'y="([\d.-]+)" [^>]*text-anchor="middle">\d+</text>', svg)
    ]
    assert min(heights) > 84


def test_the_panorama_in_text_and_data(panorama):
    there = Where(CAPE, Horizon())
    text = "\n".join(panorama_lines(PanoramaPlan(panorama, None, there, AT, ())))
    assert "First frame: Friday 04 June 2027, 22:30, at Cape <1> (33.9000° S 18.4000° E)" in text
    assert "order          rows from the land up, each left to right" in text
    assert "disk space" in text
    assert "No laser near aircraft" in text
    undated = PanoramaPlan(panorama, None, None, None, ())
    assert "First frame" not in "\n".join(panorama_lines(undated))
    data = json.loads(json.dumps(panorama_data(undated), allow_nan=False))
    assert (data["place"], data["at"], data["area"]["kind"]) == (None, None, "box")
    assert len(data["frames"]) == len(panorama.frames)


def test_the_phone_list_is_black_and_self_contained(panorama):
    page = phone_list(panorama, "Arch & <land>")
    assert page.startswith('<!doctype html><html lang="en" style="background:#000">')
    for word in ("<script", "http", "<img", "@import", "url("):
        assert word not in page
    assert "Arch &amp; &lt;land&gt;" in page
    for frame in panorama.frames:
        assert f"{round(frame.pointing.azimuth_degrees) % 360}°" in page


def test_lines_for_the_field_card(panorama):
    line = panorama_line(panorama)
    assert line.rows == len(panorama.rows)
    assert line.frames_per_row == max(r.frames for r in panorama.rows)
    assert line.overlap_percent == pytest.approx(35)
    plan = plan_stack(Shot(FULL, 20, 1.8), 32.0, Pointing(30, 180), -33.9, StackGoal(10))
    assert stack_line(plan).interval_s == 35
    assert "35 s on the remote" in "\n".join(stack_lines(WishedStack(plan, ())))
    json.dumps(stack_data(WishedStack(plan, ())), allow_nan=False)


def test_the_strip_for_the_card():
    strip = night_strip(plan_night(CAPE, date(2027, 6, 4)))
    assert strip.night_of == date(2027, 6, 4)
    assert strip.zone == "Africa/Johannesburg"
    assert re.fullmatch(r"\d\d:\d\d to \d\d:\d\d", strip.dark)
    assert 1 <= len(strip.hours) <= 8
    assert max(h.core_altitude_degrees for h in strip.hours) > 80
    assert "lit" in strip.moon
    # The centre is up when the dark begins, and never sets before it ends.
    assert re.fullmatch(r"from 19:13, \d\d° high in the east-south-east, to 06:1\d", strip.core)


def test_the_strip_says_when_the_core_is_up_next():
    coast = Place("coast", 52.1, 4.4, zone_name="Europe/Amsterdam")
    strip = night_strip(plan_night(coast, date(2026, 11, 29)))
    assert strip.core == "not up in the dark tonight; next on 3 March, 04:43"
    assert strip.hours == ()
    up = night_strip(plan_night(coast, date(2027, 5, 6)))
    assert up.core == "from 01:27, rising in the south-east, to 03:17"
    assert [h.local_time for h in up.hours] == ["02:00", "03:00"]
    moonlit = night_strip(plan_night(Place("k", -31, 21, zone_name="UTC+2"), date(2027, 6, 18)))
    assert moonlit.core == (
        "from 19:08, 21° high in the east-south-east, but in moonlight; moonless next on 21 June, "
        "19:08"
    )
    never = night_strip(plan_night(Place("north", 70, 20), date(2027, 1, 6)))
    assert never.core == "not up in the dark tonight; nor in the coming year"


def test_the_strip_of_a_bright_night():
    strip = night_strip(plan_night(Place("north", 70, 20), date(2027, 6, 20)))
    assert strip.dark == "The sun stays up: there is no night."
    assert strip.hours == ()
