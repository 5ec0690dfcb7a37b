"""How far the source stands: worked values, and what the room does not allow."""

import pytest
from shoot_benches import CORNERS, DIPPER, PLOVER, WREN, bench

from nightglass.gear.benchfile import Place
from nightglass.gear.lens import Lens
from nightglass.optics.defocus import source_blur_um, star_blur_um
from nightglass.shoot.codes import DistanceFrom, DistanceProblem
from nightglass.shoot.distances import distance

CENTRE = CORNERS[:1]


def test_image_of_a_bare_lamp():
    # A 5 mm lamp at 10 m with 24 mm: 5 x 24 / 10,000 = 12 um (trade value, recomputed), two pixels.
    found = distance(bench(source_mm=5.0, distance_m=10.0), PLOVER, 24, 1.4, CENTRE)
    assert found.source_image_um == pytest.approx(12.0)
    assert found.source_image_px == pytest.approx(2.0)
    assert found.problem is DistanceProblem.SOURCE_TOO_LARGE
    # Half a pixel of 6 um allows 3 um: a source of 1.25 mm, or the 5 mm one from 40 m.
    assert found.largest_source_mm == pytest.approx(1.25)
    assert found.least_m == pytest.approx(40.0)


def test_focus_left_at_infinity_and_the_other_way_round():
    # 20 mm f/1.8 (exact mark 1.7818) at 5 m. With 1.8 itself, focused at 5 m the sensor stands at
    # 20 x 5000 / 4980 = 20.0803 mm (thin lens); a star's cone, 20 / 1.8 mm wide at the lens, meets
    # 0.0803 mm before it: 44.623 um. Left at infinity the source has 400 / (1.8 x 5) = 44.444 um.
    assert star_blur_um(20, 1.8, 5.0) == pytest.approx(44.623, abs=1e-3)
    assert source_blur_um(20, 1.8, 5.0) == pytest.approx(44.444, abs=1e-3)
    heron = Lens("Heron 20 mm", 20, 20, 1.8, 1.8)
    found = distance(bench(distance_m=5.0), heron, 20, 1.8, CENTRE)
    assert found.star_um == pytest.approx(44.623 * 1.8 / 1.78180, rel=1e-4)
    assert found.left_at_infinity_um == pytest.approx(44.444 * 1.8 / 1.78180, rel=1e-4)
    assert found.star_percent == pytest.approx(100 * found.star_um / 24_000)
    # f^2 / (N c) + f with c one pixel: 400 / (1.7818 x 0.006) + 20 mm.
    assert found.star_sharp_m == pytest.approx(37.435, abs=5e-3)


def test_source_inside_the_focal_length_is_refused():
    with pytest.raises(ValueError, match=r"distance_m is 0\.01; it must be more than the focal"):
        source_blur_um(20, 1.8, 0.01)


def test_corner_stretches_the_image_of_the_source():
    # Rectilinear corner of 12 mm: theta = atan(21.63 / 12) = 60.98 degrees. Standing back, its
    # angle shrinks by cos, its image grows by 1 / cos^2: 1 / cos = 2.062 over the axis.
    on_axis = distance(bench(distance_m=10.0), WREN, 12, 2.0, CENTRE)
    corner = distance(bench(distance_m=10.0), WREN, 12, 2.0, CORNERS)
    assert on_axis.largest_source_mm == pytest.approx(2.5)
    assert corner.largest_source_mm == pytest.approx(2.5 / 2.0615, rel=1e-3)
    assert corner.room_m == pytest.approx(20.615, abs=5e-3)


def test_equal_area_fisheye_needs_no_smaller_source_in_the_corner():
    # Equisolid: outward scale cos(theta / 2) under 1, so the axis is the worst place.
    fisheye = Lens("Owl 15 mm", 15, 15, 2.8, 2.8, projection="equisolid")
    found = distance(bench(distance_m=10.0), fisheye, 15, 2.8, (*CENTRE, Place("edge", 90, 50)))
    assert found.largest_source_mm == pytest.approx(2.0)


def test_room_gives_the_farthest_distance_that_leaves_room_to_stand_back():
    found = distance(bench(room_m=15.0), DIPPER, 14, 2.8, CORNERS)
    # Corner of 14 mm on 36 x 24: 57.1 degrees, stand back 1.840 times (trade values).
    assert found.distance_from is DistanceFrom.ROOM
    assert found.room_m == pytest.approx(15.0)
    assert found.distance_m == pytest.approx(15 / 1.8405, abs=5e-3)


def test_lens_for_which_the_room_is_too_short_says_which_room_it_needs():
    found = distance(bench(room_m=6.0, source_mm=1.0), DIPPER, 28, 4.0, CORNERS)
    assert found.distance_m is None
    assert found.problem is DistanceProblem.ROOM_TOO_SHORT
    # On the axis 2 x 1 x 28 / 6 = 9.33 m; corner 37.7 degrees: once for the stretch of the image,
    # once for standing back, each 1 / cos = 1.2637.
    assert found.needs_room_m == pytest.approx(28 / 3 * 1.2637**2, rel=1e-3)
    roomy = distance(bench(room_m=found.needs_room_m, source_mm=1.0), DIPPER, 28, 4.0, CORNERS)
    assert roomy.problem is None
    assert roomy.source_image_px == pytest.approx(0.5)
    smaller = distance(
        bench(room_m=6.0, source_mm=found.largest_source_mm * 0.999), DIPPER, 28, 4.0, CORNERS
    )
    assert smaller.problem is None


def test_stated_distance_without_room_to_stand_back():
    found = distance(bench(room_m=12.0, distance_m=10.0), DIPPER, 14, 2.8, CORNERS)
    assert found.problem is DistanceProblem.NO_STAND_BACK
    assert found.needs_room_m == pytest.approx(18.4, abs=0.06)
    assert found.distance_m == 10.0


def test_nothing_known_assumes_ten_metres_or_what_the_source_needs():
    assert distance(bench(), WREN, 12, 2.0, CENTRE).distance_m == 10.0
    far = distance(bench(source_mm=5.0), PLOVER, 24, 1.4, CENTRE)
    assert far.distance_m == pytest.approx(40.0)
    assert far.distance_from is DistanceFrom.ASSUMED
