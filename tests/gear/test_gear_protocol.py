"""The sheet for shooting: its two formulas and its cautions."""

import pytest

from nightglass.gear.body import Body
from nightglass.gear.protocol import (
    corner_angle_degrees,
    how_to_shoot,
    largest_source_mm,
    stand_back_m,
)
from nightglass.gear.template import EXAMPLE_BODY, EXAMPLE_LENSES

FULL_FRAME = Body("full frame 24 x 36 mm", 6.0, 6000, 4000)


def test_largest_source_images_to_half_a_pixel():
    # Thin lens, far source: 24 mm at 10 m shrinks 1/416.7, so 3 um (half of 6 um) is 1.25 mm.
    assert largest_source_mm(6.0, 10.0, 24.0) == pytest.approx(1.25)


@pytest.mark.parametrize(
    ("focal_mm", "corner", "distance_m"), [(24, 42.0, 13.5), (14, 57.1, 18.4), (35, 31.7, 11.8)]
)
def test_stand_back_keeps_the_focused_plane(focal_mm, corner, distance_m):
    # Geometry: atan(21.63 / f), 10 m / cos; 24 x 36 mm frame.
    angle = corner_angle_degrees(FULL_FRAME, focal_mm)
    assert angle == pytest.approx(corner, abs=0.1)
    assert stand_back_m(10.0, angle) == pytest.approx(distance_m, abs=0.05)


def test_values_that_can_not_be_are_refused():
    with pytest.raises(ValueError, match=r"focal_mm is 0; it must be above 0"):
        largest_source_mm(6.0, 10.0, 0)
    with pytest.raises(ValueError, match=r"off_axis_degrees is 90; allowed: 0 to under 90"):
        stand_back_m(10.0, 90)


def test_sheet_has_sizes_for_the_bag_and_the_cautions():
    sheet = how_to_shoot(EXAMPLE_BODY, EXAMPLE_LENSES)
    assert "12 mm         2.52 mm" in sheet
    for words in (
        "Local rules come first", "IEC 62471", "IEC 60825-1", "never look into it through a lens",
        "Never aim a lens or an optical finder at the sun", "not alone", "traffic", "40-70 %",
        "Refocus before EACH",
    ):  # fmt: skip
        assert words in sheet
