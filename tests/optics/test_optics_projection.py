"""Projections, angles of view and solid angles against closed forms and published values."""

import math
from typing import get_args

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import dblquad

from nightglass.gear.lens import ProjectionName
from nightglass.optics.projection import (
    PROJECTIONS,
    angles_of_view,
    directions,
    frame_solid_angle_sr,
    image_radius_mm,
    off_axis_degrees,
    pixel_solid_angle_sr,
    places_mm,
    radial_scale,
    relative_solid_angle,
    tangential_scale,
)

SQUARE_DEGREES = math.degrees(1) ** 2


@pytest.mark.parametrize(
    ("projection", "theta_degrees", "over_f"),
    # r/f = tan, theta, 2 sin(theta/2), 2 tan(theta/2): recomputed. That the equisolid one is
    # 2 sin(theta/2): sources of several open libraries of fisheye cameras.
    [
        ("rectilinear", 10, 0.176327),
        ("rectilinear", 30, 0.577350),
        ("rectilinear", 45, 1.0),
        ("rectilinear", 60, 1.732051),
        ("stereographic", 60, 1.154701),
        ("equidistant", 60, 1.047198),
        ("equisolid", 60, 1.0),
    ],
)
def test_radius_over_focal_length(projection, theta_degrees, over_f):
    assert image_radius_mm(theta_degrees, 1.0, projection) == pytest.approx(over_f, abs=1e-6)


@pytest.mark.parametrize(
    ("projection", "full_degrees"),
    # 15 mm fisheye, diagonal of 36 x 24 mm; recomputed.
    [("equisolid", 184.585), ("equidistant", 165.266), ("stereographic", 143.183)],
)
def test_diagonal_of_a_fisheye(projection, full_degrees):
    view = angles_of_view(36, 24, 15, projection)
    assert view.diagonal_degrees == pytest.approx(full_degrees, abs=1e-3)


@pytest.mark.parametrize(
    ("focal_mm", "width", "height", "diagonal"),
    # 2 atan(d / 2f) on 36 x 24 mm; recomputed.
    [
        (14, 104.250, 81.203, 114.182),
        (20, 83.974, 61.928, 94.493),
        (24, 73.740, 53.130, 84.062),
    ],
)
def test_angles_of_view(focal_mm, width, height, diagonal):
    view = angles_of_view(36, 24, focal_mm)
    found = (view.width_degrees, view.height_degrees, view.diagonal_degrees)
    assert found == pytest.approx((width, height, diagonal), abs=5e-4)


@pytest.mark.parametrize(
    ("focal_mm", "sr", "square_degrees"),
    # 36 x 24 mm: closed form read in an encyclopaedia in two ways, recomputed by integration.
    [
        (14, 2.157984, 7084.2),
        (20, 1.405459, 4613.8),
        (24, 1.086628, 3567.2),
        (50, 0.316522, 1039.1),
    ],
)
def test_solid_angle_of_a_rectilinear_frame(focal_mm, sr, square_degrees):
    found = frame_solid_angle_sr(36, 24, focal_mm)
    assert found == pytest.approx(sr, abs=1e-6)
    assert found * SQUARE_DEGREES == pytest.approx(square_degrees, abs=0.05)


def test_width_times_height_in_degrees_is_a_fifth_too_much():
    # 8465 square degrees instead of 7084 at 14 mm: derived, recomputed.
    view = angles_of_view(36, 24, 14)
    flat = view.width_degrees * view.height_degrees
    assert flat == pytest.approx(8465, abs=1)
    exact = frame_solid_angle_sr(36, 24, 14) * SQUARE_DEGREES
    assert flat / exact - 1 == pytest.approx(0.195, abs=5e-4)


def test_equisolid_frame_is_area_over_focal_length_squared():
    # 15 mm on 36 x 24: exactly 3.84 sr. Equal-area property.
    assert frame_solid_angle_sr(36, 24, 15, "equisolid") == pytest.approx(3.84, rel=1e-10)


@pytest.mark.parametrize("projection", PROJECTIONS)
def test_frame_solid_angle_is_the_sum_over_its_area(projection):
    # The same integral in another way: over the area of the sensor, with scipy's dblquad.
    width, height, f = 23.4, 15.7, 11.0

    def density(y, x):
        return float(pixel_solid_angle_sr(x, y, 1.0, f, projection)) * 1e6

    summed = 4 * dblquad(density, 0, width / 2, 0, height / 2, epsabs=1e-9)[0]
    assert frame_solid_angle_sr(width, height, f, projection) == pytest.approx(summed, rel=1e-7)
    wide = frame_solid_angle_sr(width, height, f, projection, image_circle_mm=1000.0)
    if projection != "equisolid":
        assert wide == pytest.approx(summed, rel=1e-7)


def test_image_circle_and_the_whole_sphere():
    # A circle of half angle 90 degrees holds 2 pi; the whole sphere is 4 pi.
    for projection in ("equidistant", "equisolid", "stereographic"):
        circle = 2 * float(image_radius_mm(90.0, 8.0, projection))
        found = frame_solid_angle_sr(200, 100, 8.0, projection, image_circle_mm=circle)
        assert found == pytest.approx(2 * math.pi, rel=1e-9)
    assert frame_solid_angle_sr(40, 30, 1.5, "equidistant") == pytest.approx(4 * math.pi, rel=1e-8)
    # A circle that the short side cuts: less than the circle, less than the frame.
    cut = frame_solid_angle_sr(36, 24, 14, "equidistant", image_circle_mm=30.0)
    assert cut < frame_solid_angle_sr(36, 24, 14, "equidistant")
    assert cut < 2 * math.pi * (1 - math.cos(15 / 14))


def test_local_scale_off_axis():
    # Rectilinear at 45 degrees: radial 2, tangential 1.41421; derivative of tan, recomputed.
    assert radial_scale(45.0) == pytest.approx(2.0)
    assert tangential_scale(45.0) == pytest.approx(1.41421, abs=1e-5)
    # Corners of 14 and 24 mm on 36 x 24: 3.4 / 1.8 and 1.8 / 1.35. Computed trade values.
    for f, radial, tangential in ((14, 3.4, 1.8), (24, 1.8, 1.35)):
        corner = off_axis_degrees(math.hypot(18, 12), f)
        assert radial_scale(corner) == pytest.approx(radial, abs=0.05)
        assert tangential_scale(corner) == pytest.approx(tangential, abs=0.05)


@pytest.mark.parametrize("projection", PROJECTIONS)
def test_local_scale_is_the_slope_of_the_projection(projection):
    theta = np.array([0.5, 20.0, 44.0, 70.0])
    step = 1e-5
    slope = image_radius_mm(theta + step, 1.0, projection) - image_radius_mm(
        theta - step, 1.0, projection
    )
    np.testing.assert_allclose(
        radial_scale(theta, projection), slope / np.radians(2 * step), rtol=1e-8
    )
    assert tangential_scale(0.0, projection) == pytest.approx(1.0)
    assert relative_solid_angle(0.0, projection) == pytest.approx(1.0)


def test_relative_solid_angle_closed_forms():
    theta = np.array([0.0, 30.0, 57.0])
    np.testing.assert_allclose(relative_solid_angle(theta), np.cos(np.radians(theta)) ** 3)
    np.testing.assert_allclose(relative_solid_angle(theta, "equisolid"), 1.0)


def test_corner_light_by_the_cosine_law():
    # cos^4 in the corner of 36 x 24, the law of an ideal lens (Kerr 2007, Derivation of the Cosine
    # Fourth Law): cos for the pupil times the solid angle of a pixel.
    for f, light in ((14, 0.0871), (20, 0.2124), (24, 0.3044), (50, 0.7095)):
        corner = off_axis_degrees(math.hypot(18, 12), f)
        found = math.cos(math.radians(corner)) * relative_solid_angle(corner)
        assert found == pytest.approx(light, abs=1e-4)


@given(
    st.sampled_from(PROJECTIONS), st.floats(0, 88.0), st.floats(-180, 180), st.floats(4.0, 100.0)
)
def test_directions_and_places_are_inverse(projection, theta, turn, f):
    r = float(image_radius_mm(theta, f, projection))
    assert float(off_axis_degrees(r, f, projection)) == pytest.approx(theta, abs=1e-7)
    x, y = r * math.cos(math.radians(turn)), r * math.sin(math.radians(turn))
    v = directions(x, y, f, projection)
    assert float(np.linalg.norm(v)) == pytest.approx(1.0)
    back = places_mm(v, f, projection)
    assert (float(back[0]), float(back[1])) == pytest.approx((x, y), abs=1e-7 * (1 + r))


def test_outside_the_image_is_nan():
    assert np.isnan(image_radius_mm([90.0, 120.0], 20.0)).all()
    assert np.isnan(off_axis_degrees(17.0, 8.0, "equisolid"))
    assert np.isnan(places_mm([0.0, 0.0, -1.0], 20.0)[0])
    assert np.isnan(radial_scale(181.0, "equidistant"))
    assert angles_of_view(36, 24, 4.0, "equidistant").width_degrees == 360.0


def test_azimuth_spanned_by_a_tilted_frame():
    # 20 mm on 36 mm, tilted by 0 / 30 / 45 degrees: 83.97 / 92.20 / 103.69 degrees of azimuth
    # = 2 atan((w / 2f) / cos a): geometry, recomputed; here from the directions themselves.
    for tilt, spanned in ((0, 83.97), (30, 92.20), (45, 103.69)):
        v = directions(18.0, 0.0, 20.0)
        ahead = v[2] * math.cos(math.radians(tilt))
        assert 2 * math.degrees(math.atan2(v[0], ahead)) == pytest.approx(spanned, abs=5e-3)


def test_inputs_stay_unchanged():
    theta = np.array([10.0, 20.0])
    image_radius_mm(theta, 20.0)
    radial_scale(theta)
    tangential_scale(theta)
    np.testing.assert_array_equal(theta, [10.0, 20.0])


def test_bad_input():
    with pytest.raises(ValueError, match="projection 'flat' is not known; use rectilinear, equid"):
        image_radius_mm(10.0, 20.0, "flat")
    with pytest.raises(ValueError, match="focal_mm is 0; a focal length is above 0 mm"):
        directions(1.0, 1.0, 0.0)
    with pytest.raises(ValueError, match="the frame is 36 x 0 mm; both sides must be above 0"):
        frame_solid_angle_sr(36, 0, 20)
    with pytest.raises(ValueError, match="pitch_um is 0; a pixel is larger than 0"):
        pixel_solid_angle_sr(0, 0, 0, 20)
    with pytest.raises(ValueError, match="image_circle_mm is -1; a diameter is above 0"):
        frame_solid_angle_sr(36, 24, 20, "rectilinear", -1)


def test_lenses_name_the_same_projections():
    # optics knows nothing of gear, so both rooms list the names: they must not drift apart.
    assert get_args(ProjectionName) == PROJECTIONS
