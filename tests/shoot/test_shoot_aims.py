"""Aims: pan and tilt by the projection, standing back, false blur."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shoot_benches import BODY, CORNERS, PLOVER

from nightglass.gear.benchfile import Place
from nightglass.gear.lens import Lens
from nightglass.optics.projection import PROJECTIONS, places_mm
from nightglass.shoot.aims import aim_at, aims
from nightglass.shoot.codes import AimProblem


def turned(pan_degrees, tilt_degrees):
    """Where a source straight ahead stands for a camera that panned right, then tilted up.

    By rotation matrices: about the vertical (y, down), then about the camera's own x.
    """
    p, t = math.radians(pan_degrees), math.radians(tilt_degrees)
    about_y = np.array([[math.cos(p), 0, -math.sin(p)], [0, 1, 0], [math.sin(p), 0, math.cos(p)]])
    about_x = np.array([[1, 0, 0], [0, math.cos(t), math.sin(t)], [0, -math.sin(t), math.cos(t)]])
    return about_x @ about_y @ np.array([0.0, 0.0, 1.0])


@given(st.sampled_from(PROJECTIONS), st.floats(12, 60), st.floats(2, 98), st.floats(2, 98))
def test_camera_turned_by_the_aim_has_the_star_at_the_place(projection, focal_mm, x, y):
    lens = Lens("L", focal_mm, focal_mm, 2.8, 2.8, projection=projection)
    (aim,) = aims(BODY, lens, focal_mm, (Place("p", x, y),))
    star = turned(aim.pan_degrees, aim.tilt_degrees)
    x_mm, y_mm = places_mm(star, focal_mm, projection)
    assert float(x_mm) == pytest.approx((x / 100 - 0.5) * 36, abs=1e-9)
    assert float(y_mm) == pytest.approx((y / 100 - 0.5) * 24, abs=1e-9)


def test_sides():
    lens = Lens("L", 24, 24, 2.8, 2.8)
    left, top = aims(BODY, lens, 24, (Place("left", 0, 50), Place("top", 50, 0)))
    # Star to the left: turn right by atan(18 / 24); star at the top: tilt down by atan(12 / 24).
    assert (left.pan_degrees, left.tilt_degrees) == pytest.approx((36.870, 0.0), abs=1e-3)
    assert (top.pan_degrees, top.tilt_degrees) == pytest.approx((0.0, -26.565), abs=1e-3)
    assert left.field_radius == pytest.approx(18 / math.hypot(18, 12))


@pytest.mark.parametrize(
    ("focal_mm", "f_number", "corner", "stand_m", "percent"),
    [(24, 1.4, 42.0, 13.5, 0.059), (14, 2.8, 57.1, 18.4, 0.025), (35, 1.4, 31.7, 11.8, 0.064)],
)
def test_corner_of_a_full_frame(focal_mm, f_number, corner, stand_m, percent):
    # Trade values at 10 m, recomputed: angle, distance to stand at, false blur in % of height.
    lens = Lens("L", focal_mm, focal_mm, f_number, f_number)
    aim = aim_at(aims(BODY, lens, focal_mm, CORNERS)[1], BODY, focal_mm, f_number, 10.0)
    assert aim.field_radius == pytest.approx(1.0)
    assert aim.off_axis_degrees == pytest.approx(corner, abs=0.06)
    assert aim.stand_m == pytest.approx(stand_m, abs=0.06)
    assert aim.false_blur_percent == pytest.approx(percent, abs=2e-3)


@pytest.mark.parametrize(
    ("projection", "x_percent", "degrees"),
    # r / f at 60 and 45 degrees (Miyamoto 1964): equidistant pi/3, equisolid 1, stereographic
    # 1.154701, rectilinear 1; here f = 15 mm and r = (x - 50 %) of 36 mm.
    [("equidistant", 50 + 100 * 15 * math.pi / 3 / 36, 60.0),
     ("equisolid", 50 + 100 * 15 / 36, 60.0),
     ("stereographic", 50 + 100 * 15 * 1.154701 / 36, 60.0),
     ("rectilinear", 50 + 100 * 15 / 36, 45.0)],
)  # fmt: skip
def test_angles_of_the_projections(projection, x_percent, degrees):
    lens = Lens("L", 15, 15, 2.8, 2.8, projection=projection)
    (aim,) = aims(BODY, lens, 15, (Place("p", x_percent, 50),))
    assert aim.off_axis_degrees == pytest.approx(degrees, abs=1e-4)
    assert aim.pan_degrees == pytest.approx(-degrees, abs=1e-4)


def test_places_that_a_fisheye_does_not_show_or_that_lie_behind_its_plane():
    owl = Lens("Owl 8 mm", 8, 8, 2.8, 2.8, projection="equisolid")
    edge, corner = aims(BODY, owl, 8, (Place("edge", 86, 50), Place("corner", 100, 100)))
    assert edge.off_axis_degrees == pytest.approx(2 * math.degrees(math.asin(0.36 * 36 / 16)))
    assert edge.problem is AimProblem.BEHIND_THE_PLANE
    assert aim_at(edge, BODY, 8, 2.8, 10.0).stand_m is None
    assert corner.problem is AimProblem.NOT_SHOWN
    assert corner.pan_degrees is None


def test_centre_needs_no_turn():
    aim = aim_at(aims(BODY, PLOVER, 24, CORNERS)[0], BODY, 24, 1.4, 10.0)
    assert (aim.pan_degrees, aim.tilt_degrees, aim.stand_m) == (0.0, 0.0, 10.0)
    assert math.copysign(1, aim.pan_degrees) == 1
    assert aim.false_blur_um == 0.0
