"""The camera model: round trips, aims and areas against closed forms."""

from __future__ import annotations

import math

import erfa
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nightglass.optics.projection import PROJECTIONS
from nightglass.sky.astrometry.camera import (
    Camera,
    catalogue_rotation,
    look_at,
    pixel_area_arcsec2,
    places_px,
    plain_camera,
    pole_of_date,
    roll_degrees,
    sky_degrees,
    turned,
    unit_vectors,
    vectors_at,
    width_degrees,
    without_air,
)
from nightglass.sky.astrometry.refraction import Apparent, altitude_degrees, lift_degrees


@pytest.mark.parametrize("projection", PROJECTIONS)
def test_places_and_vectors_are_inverse_under_distortion_in_a_portrait_frame(projection):
    camera = Camera(1203, 2001, 1500.0, 590.3, 1011.7, k1=-0.06, k2=0.015, projection=projection)
    rotation = look_at(211.0, -63.0, 123.0)
    x, y = np.array([0.0, 1202.0, 17.3, 600.0]), np.array([0.0, 3.0, 2000.0, 1000.2])
    back_x, back_y = places_px(camera, rotation, vectors_at(camera, rotation, x, y))
    assert np.abs(back_x - x).max() < 1e-6
    assert np.abs(back_y - y).max() < 1e-6


@settings(max_examples=40, deadline=None)
@given(st.floats(0, 359.9), st.floats(-89, 89), st.floats(0, 359.9))
def test_look_at_aims_and_rolls_as_asked(ra, dec, roll):
    rotation = look_at(ra, dec, roll)
    assert np.allclose(rotation @ rotation.T, np.eye(3), atol=1e-12)
    assert np.linalg.det(rotation) == pytest.approx(1.0)
    seen_ra, seen_dec = sky_degrees(rotation[2])
    assert math.cos(math.radians(seen_ra - ra)) == pytest.approx(1.0, abs=1e-9)
    assert seen_dec == pytest.approx(dec, abs=1e-9)
    assert math.cos(math.radians(roll_degrees(rotation) - roll)) == pytest.approx(1.0, abs=1e-9)


def test_north_is_up_and_east_is_left_without_roll():
    camera = plain_camera(900, 600, 800.0)
    rotation = look_at(50.0, 10.0)
    x, y = places_px(camera, rotation, unit_vectors([50.0, 51.0], [11.0, 10.0]))
    assert y[0] < 299.5 - 10
    assert x[0] == pytest.approx(449.5, abs=0.01)
    assert x[1] < 449.5 - 10


def test_width_and_area_of_a_rectilinear_frame_are_those_of_trigonometry():
    camera = plain_camera(4000, 3000, 2000.0)
    assert width_degrees(camera) == pytest.approx(2 * math.degrees(math.atan(1.0)), abs=1e-6)
    on_axis = pixel_area_arcsec2(camera, 1999.5, 1499.5)
    assert on_axis == pytest.approx((math.degrees(1 / 2000) * 3600) ** 2, rel=1e-5)
    # Off the axis by 45 degrees the solid angle of a pixel falls with cos^3.
    assert pixel_area_arcsec2(camera, 3999.5, 1499.5) / on_axis == pytest.approx(0.3536, rel=1e-3)


def test_the_sky_turns_about_the_pole_of_date():
    pole = pole_of_date(2000.0)
    assert np.allclose(pole, [0, 0, 1])
    # Precession of 26 years by an outside library: theta of the IAU 1976 model (pyerfa).
    moved = math.degrees(math.acos(float(pole_of_date(2026.0) @ pole)))
    _, _, theta = erfa.prec76(2451545.0, 0.0, 2451545.0, 26 * 365.25)
    assert moved == pytest.approx(math.degrees(theta), abs=1e-5)
    east = unit_vectors(0.0, 0.0)
    ra, dec = sky_degrees(turned(east, pole, math.radians(15.0)))
    assert ra == pytest.approx(15.0)
    assert dec == pytest.approx(0.0, abs=1e-9)


def test_a_camera_without_focal_length_is_refused():
    with pytest.raises(ValueError, match=r"focal_px is 0; a focal length is above 0 px"):
        plain_camera(100, 100, 0.0)


def test_places_and_vectors_are_inverse_through_the_air_down_below_the_horizon():
    zenith = unit_vectors(40.0, 20.0)
    air = Apparent(tuple(zenith), 0.93, (6e-5, -7e-5, 2e-5))
    camera = Camera(2001, 1203, 700.0, 990.3, 611.7, k1=-0.06, k2=0.015, apparent=air)
    rotation = look_at(125.0, 8.0, 20.0)
    x, y = (column.ravel() for column in np.meshgrid(np.linspace(0, 2000, 9), [0.0, 611.0, 1202]))
    vectors = vectors_at(camera, rotation, x, y)
    assert altitude_degrees(vectors, air).min() < -10 < 30 < altitude_degrees(vectors, air).max()
    back_x, back_y = places_px(camera, rotation, vectors)
    assert np.abs(back_x - x).max() < 1e-3
    assert np.abs(back_y - y).max() < 1e-3
    # The frame itself is as wide, and its pixels see as much, as without.
    assert width_degrees(camera) == width_degrees(without_air(camera))
    assert pixel_area_arcsec2(camera, x, y) == pytest.approx(
        pixel_area_arcsec2(without_air(camera), x, y)
    )


def test_catalogue_directions_of_a_camera_lie_under_those_that_it_sees():
    zenith = unit_vectors(40.0, 20.0)
    camera = Camera(2001, 1203, 700.0, 1000.0, 601.0, apparent=Apparent(tuple(zenith)))
    rotation = look_at(125.0, 8.0, 20.0)
    catalogue = catalogue_rotation(camera, rotation)
    assert np.allclose(catalogue @ catalogue.T, np.eye(3), atol=1e-12)
    assert catalogue[2] == pytest.approx(vectors_at(camera, rotation, 1000.0, 601.0), abs=1e-9)
    sunk = math.degrees(math.asin(rotation[2] @ zenith) - math.asin(catalogue[2] @ zenith))
    seen = math.degrees(math.asin(rotation[2] @ zenith))
    assert sunk == pytest.approx(float(lift_degrees(seen)), abs=1e-6)
    assert roll_degrees(catalogue) == pytest.approx(roll_degrees(rotation), abs=0.1)
    assert catalogue_rotation(without_air(camera), rotation) is rotation


def test_width_of_a_fisheye_goes_on_past_half_of_the_sky_and_ends_at_its_circle():
    equidistant = plain_camera(4000, 3000, 1000.0, "equidistant")
    assert width_degrees(equidistant) == pytest.approx(math.degrees(4.0), abs=1e-6)
    # An equisolid picture of the whole sphere has the radius 2 f.
    assert width_degrees(plain_camera(4200, 3000, 1000.0, "equisolid")) == 360.0
