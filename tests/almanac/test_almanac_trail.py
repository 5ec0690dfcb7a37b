"""Star trails against published values, hand formulas and the projections of a WCS library."""

import math

import numpy as np
import pytest
from astropy.wcs import WCS
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from nightglass.almanac.trail import (
    Aim,
    frame_grid_mm,
    longest_time_s,
    star_declination_degrees,
    trail_mm,
    trail_path_mm,
    trail_percent,
    worst_place_mm,
)
from nightglass.gear.dial import longest_dial_step
from nightglass.light.defaults import EARTH_ROTATION_RAD_S, TRAIL_LIMIT
from nightglass.optics.projection import PROJECTIONS

micrometre = 1e-3


def test_sidereal_rate():
    # 1.00273781191135448 turns per UT1 day = 15.0410672 arcseconds per second; Astronomical
    # Almanac, App. K6 (IAU 2009), recomputed with pyerfa. 20 s: 300.82 arcseconds.
    assert (
        pytest.approx(EARTH_ROTATION_RAD_S, rel=1e-8) == 1.00273781191135448 * 2 * math.pi / 86400
    )
    arcseconds = math.degrees(EARTH_ROTATION_RAD_S) * 3600
    assert arcseconds == pytest.approx(15.0410672, abs=1e-6)
    assert 20 * arcseconds == pytest.approx(300.82, abs=5e-3)
    # Stellar day 86164.098904 s: IERS useful constants (copy read).
    assert 2 * math.pi / EARTH_ROTATION_RAD_S == pytest.approx(86164.098904, abs=2e-3)


@pytest.mark.parametrize(
    ("focal_mm", "exposure_s", "declination", "trail_um"),
    # f omega t cos(declination); derived.
    [(24, 20, 0, 35.002), (14, 20, -29, 17.858), (20, 10, 60, 7.292)],
)
def test_trail_on_the_axis(focal_mm, exposure_s, declination, trail_um):
    trail = trail_mm(0, 0, exposure_s, focal_mm, Aim(declination))
    assert trail.length_mm == pytest.approx(trail_um * micrometre, abs=0.01 * micrometre)


@pytest.mark.parametrize(
    ("focal_mm", "exposure_s", "x_mm", "y_mm", "trail_um", "factor"),
    # Camera aimed at the equator, rectilinear: end point minus start point of a star rotated by
    # brute force; factor over f omega t cos(declination of that star). Recomputed.
    [
        (14, 20, 0, 0, 20.42, 1.000),
        (14, 20, 18, 0, 54.27, 2.658),
        (14, 20, 18, 12, 58.77, 3.253),
        (24, 10, 18, 12, 28.14, 1.732),
        (20, 15, 18, 12, 41.36, 2.070),
    ],
)
def test_trail_in_the_corner(focal_mm, exposure_s, x_mm, y_mm, trail_um, factor):
    length = trail_mm(x_mm, y_mm, exposure_s, focal_mm).length_mm
    assert length == pytest.approx(trail_um * micrometre, abs=0.006 * micrometre)
    declination = np.radians(star_declination_degrees(x_mm, y_mm, focal_mm))
    on_axis = focal_mm * EARTH_ROTATION_RAD_S * exposure_s * np.cos(declination)
    assert length / on_axis == pytest.approx(factor, abs=6e-4)


@pytest.mark.parametrize(
    ("projection", "code"),
    [
        ("rectilinear", "TAN"),
        ("equidistant", "ARC"),
        ("equisolid", "ZEA"),
        ("stereographic", "STG"),
    ],
)
def test_paths_agree_with_a_wcs_library(projection, code):
    # Zenithal projections of Calabretta & Greisen 2002, A&A 395, 1077, in astropy.wcs: the frame
    # stays, the star's right ascension falls by the turn of the sky.
    f, declination, exposure_s = 11.3, -37.0, 240.0
    wcs = WCS(naxis=2)
    wcs.wcs.ctype = [f"RA---{code}", f"DEC--{code}"]
    wcs.wcs.crval = [180.0, declination]
    wcs.wcs.cd = np.diag([-1.0, -1.0]) * math.degrees(1 / f)  # x to the west, y to the south
    wcs.wcs.crpix = [0.0, 0.0]
    x, y = np.array([-9.0, 3.3, 0.4, 7.7]), np.array([4.2, -5.1, 0.0, 5.9])
    # crpix 0 with pixels counted as the library counts (origin 1): the centre is at 0, 0.
    stars = wcs.wcs_pix2world(np.stack([x, y], axis=1), 1)
    np.testing.assert_allclose(
        star_declination_degrees(x, y, f, Aim(declination), projection), stars[:, 1], atol=1e-9
    )
    moved = stars - [math.degrees(EARTH_ROTATION_RAD_S) * exposure_s, 0.0]
    expected = wcs.wcs_world2pix(moved, 1)
    found = trail_path_mm(x, y, exposure_s, f, Aim(declination), projection)
    np.testing.assert_allclose(found[0][:, 1], expected[:, 0], atol=1e-9)
    np.testing.assert_allclose(found[1][:, 1], expected[:, 1], atol=1e-9)
    np.testing.assert_allclose(found[0][:, 0], x, atol=1e-12)


def test_roll_turns_the_trail():
    level = trail_mm(0, 0, 20, 24)
    assert level.angle_degrees == pytest.approx(0.0, abs=1e-3)
    assert trail_mm(0, 0, 20, 24, Aim(0, 90)).angle_degrees == pytest.approx(90.0, abs=1e-3)
    # x turned by 30 degrees from west toward south: west is then 30 degrees back, 150 of 180.
    assert trail_mm(0, 0, 20, 24, Aim(0, 30)).angle_degrees == pytest.approx(150.0, abs=1e-3)


@given(
    st.sampled_from(PROJECTIONS),
    st.floats(-88, 88),
    st.floats(-180, 180),
    st.floats(-10, 10),
    st.floats(-7, 7),
)
def test_rolling_the_frame_only_turns_the_picture(projection, declination, roll, x, y):
    turn = math.radians(roll)
    # The same star in the rolled frame: x' axis lies roll toward +y.
    rolled_x = x * math.cos(turn) + y * math.sin(turn)
    rolled_y = -x * math.sin(turn) + y * math.cos(turn)
    level = trail_mm(x, y, 60.0, 14.0, Aim(declination), projection)
    turned = trail_mm(rolled_x, rolled_y, 60.0, 14.0, Aim(declination, roll), projection)
    assert float(turned.length_mm) == pytest.approx(float(level.length_mm), rel=1e-8, abs=1e-12)


@settings(deadline=None)  # the first call loads the root finder, which takes a second
@given(st.sampled_from(PROJECTIONS), st.floats(-90, 90), st.floats(-15, 15), st.floats(-10, 10))
def test_the_longest_time_draws_just_the_limit(projection, declination, x, y):
    aim = Aim(declination, 20.0)
    time_s = longest_time_s(0.17, 24.0, 14.0, aim, projection, x, y)
    if np.isfinite(time_s):
        drawn = trail_percent(24.0, time_s, 14.0, aim, projection, x, y)
        assert float(drawn) == pytest.approx(0.17, rel=1e-6)


@given(
    declination=st.floats(-80, 80),
    roll=st.floats(-90, 90),
    focal_mm=st.floats(8, 200),
    x=st.floats(-18, 18),
    y=st.floats(-12, 12),
    limit=st.floats(0.01, 3.0),
)
@settings(max_examples=60, deadline=None)
def test_longest_time_is_the_root_that_a_library_finds(declination, roll, focal_mm, x, y, limit):
    """scipy's brentq on the same trail."""
    aim = Aim(declination, roll)
    time_s = float(longest_time_s(limit, 24.0, focal_mm, aim, "rectilinear", x, y))
    assume(math.isfinite(time_s))

    def over(seconds: float) -> float:
        length = float(trail_mm(x, y, seconds, focal_mm, aim).length_mm)
        return 1.0 if math.isnan(length) else length - limit / 100 * 24.0

    assume(over(1.01 * time_s) > 0)
    assert time_s == pytest.approx(brentq(over, 0.0, 1.01 * time_s, xtol=1e-13), rel=1e-10)


def test_default_limit_is_the_working_rule():
    # 360 / focal length [mm] on a sensor 15.6 mm high: common practice.
    for focal_mm, marked_s in ((10, 30), (12, 30), (15, 25), (16, 20), (20, 15), (24, 15)):
        time_s = float(longest_time_s(TRAIL_LIMIT.value, 15.6, focal_mm))
        assert time_s == pytest.approx(360 / focal_mm, rel=1e-5)
        assert longest_dial_step(time_s, 30.0).marked_s == marked_s


def test_five_hundred_rule_always_trails_the_same():
    # 36.46 um at declination 0 whatever the focal length, 8.4 px of 4.35 um. Trade rule.
    for focal_mm in (14, 24, 50):
        length = float(trail_mm(0, 0, 500 / focal_mm, focal_mm).length_mm)
        assert length == pytest.approx(36.46 * micrometre, abs=0.01 * micrometre)
        assert length / (4.35 * micrometre) == pytest.approx(8.4, abs=0.05)


def test_near_the_pole_times_grow_and_at_the_pole_never_end():
    times = longest_time_s(0.17, 24.0, 24.0, Aim(90.0), "rectilinear", [0.0, 0.01, 1.0, 6.0], 0.0)
    assert np.isinf(times[:2]).all()
    # On a circle of radius r the chord is 2 r sin(omega t / 2).
    expected = 2 * np.arcsin(0.17e-2 * 24 / 2 / np.array([1.0, 6.0])) / EARTH_ROTATION_RAD_S
    np.testing.assert_allclose(times[2:], expected, rtol=1e-9)


@pytest.mark.parametrize("aim", [Aim(0), Aim(-29, 90), Aim(60, 35), Aim(90), Aim(75, 10)])
@pytest.mark.parametrize("projection", PROJECTIONS)
def test_no_place_of_the_frame_is_worse_than_the_worst(aim, projection):
    width, height, f = 36.0, 24.0, 14.0
    worst = worst_place_mm(width, height, f, aim, projection)
    shortest = float(longest_time_s(0.17, height, f, aim, projection, *worst))
    x, y = frame_grid_mm(width, height, 31, 23)
    times = longest_time_s(0.17, height, f, aim, projection, x, y)
    assert times.shape == (23, 31)
    assert shortest <= np.nanmin(times) * (1 + 2e-3)


def test_outside_the_image_circle_there_is_no_star():
    x, y = frame_grid_mm(36.0, 24.0, 5, 5)
    times = longest_time_s(0.17, 24.0, 6.0, Aim(10.0), "equisolid", x, y)
    assert np.isnan(times[0, 0])
    assert np.isfinite(times[2, 2])
    assert math.hypot(*worst_place_mm(36.0, 24.0, 6.0, Aim(10.0), "equisolid")) <= 12.0


def test_the_middle_of_a_path_is_where_it_was_asked_for():
    x, y = trail_path_mm(5.0, 3.0, 300.0, 14.0, Aim(20.0), shares=(-0.5, 0.0, 0.5))
    assert (x[1], y[1]) == pytest.approx((5.0, 3.0))
    assert x.shape == (3,)
    many = trail_path_mm(np.zeros((4, 1)), 0.0, np.array([1.0, 2.0]), 14.0)
    assert many[0].shape == (4, 2, 2)


def test_bad_input():
    with pytest.raises(ValueError, match="declination_degrees is 91; it goes from -90"):
        Aim(91)
    with pytest.raises(ValueError, match="exposure_s is -1; an exposure is 0 or longer"):
        trail_mm(0, 0, -1, 20)
    with pytest.raises(ValueError, match="limit_percent is 0; a trail limit is above 0 %"):
        longest_time_s(0, 24, 20)
    with pytest.raises(ValueError, match="picture_height_mm is 0; the short side of a sensor"):
        trail_percent(0, 10, 20)
    with pytest.raises(ValueError, match="the frame is 36 x 0 mm; both must be above 0"):
        worst_place_mm(36, 0, 20)
