"""The noiseless star: colours, places, and what its truth says."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nightglass.optics.wavefront import Pupil, defocus_um, seidel
from nightglass.scene.star import Star, fine_spot
from nightglass.scene.truth import colour_offset_px, truth

PITCH_UM = 6.05
CENTRE_PX = (1935.5, 1295.5)


def test_pixels_collect_the_light_of_the_opening() -> None:
    fine = fine_spot(Star(Pupil(2.2, {8: 0.4}), 812.37, 420.81), PITCH_UM)
    for colour in (0, 1, 2):
        assert fine.on_pixels(colour).sum() == pytest.approx(1, abs=0.01)


@settings(max_examples=6, deadline=None)
@given(st.floats(100, 200), st.floats(100, 200), st.floats(-1.5, 1.5), st.floats(-1.5, 1.5))
def test_the_star_stands_where_it_was_put_with_its_lateral_colour(
    x_px: float, y_px: float, red: float, blue: float
) -> None:
    star = Star(Pupil(2.8, {4: 0.2}), x_px, y_px, (red, -red / 2), (blue / 3, blue))
    fine = fine_spot(star, PITCH_UM)
    for colour, (dx, dy) in {0: (red, -red / 2), 1: (0, 0), 2: (blue / 3, blue)}.items():
        measured = truth(fine, colour, CENTRE_PX)
        assert measured.x_px == pytest.approx(x_px + dx, abs=0.02)
        assert measured.y_px == pytest.approx(y_px + dy, abs=0.02)
    assert colour_offset_px(fine, 0) == pytest.approx((red, -red / 2), abs=0.03)


def test_a_disc_of_defocus_has_the_length_of_its_geometry() -> None:
    # Focus error dz: disc of diameter dz/N (thin-lens geometry); 5-95 % of an even disc is
    # 0.805384 of its diameter (semicircle law). The pixel's own blur adds a little at the ends.
    f_number, focus_um = 2.0, 160.0
    star = Star(Pupil(f_number, {4: defocus_um(focus_um, f_number)}), 500.3, 300.6)
    measured = truth(fine_spot(star, PITCH_UM, (1,)), 1, CENTRE_PX)
    diameter_px = focus_um / f_number / PITCH_UM
    assert measured.length_px == pytest.approx(0.805384 * diameter_px, rel=0.02)
    assert measured.width_px == pytest.approx(measured.length_px, rel=0.01)
    # Half of an even disc's light lies inside diameter / sqrt 2.
    assert measured.ee50_px == pytest.approx(diameter_px / math.sqrt(2), rel=0.02)
    assert measured.core_parts == 1


def test_coma_points_away_from_the_centre_and_leans_outward() -> None:
    azimuth = 30.0
    x = CENTRE_PX[0] + 1500 * math.cos(math.radians(azimuth))
    y = CENTRE_PX[1] + 1500 * math.sin(math.radians(azimuth))
    star = Star(Pupil(2.0, seidel(w131_um=4.0, azimuth_degrees=azimuth)), x, y)
    measured = truth(fine_spot(star, PITCH_UM, (1,)), 1, CENTRE_PX)
    assert measured.angle_degrees == pytest.approx(azimuth, abs=1)
    assert measured.lean > 0.3
    other = Star(Pupil(2.0, seidel(w131_um=-4.0, azimuth_degrees=azimuth)), x, y)
    assert truth(fine_spot(other, PITCH_UM, (1,)), 1, CENTRE_PX).lean < -0.3


def test_coma_halves_with_one_stop_down() -> None:
    # Ray theory: coma's blur goes as N^-2 when the wavefront term goes as N^-3.
    lengths = []
    for n in (2.0, 2.0 * math.sqrt(2)):
        terms = seidel(w131_um=8.0 * (2.0 / n) ** 3)
        star = Star(Pupil(n, {j: c for j, c in terms.items() if j > 3}), 600.2, 400.4)
        lengths.append(truth(fine_spot(star, PITCH_UM, (1,)), 1, CENTRE_PX).length_px)
    assert lengths[0] / lengths[1] == pytest.approx(2, rel=0.08)


def test_two_points_are_two_core_parts_in_one_skirt() -> None:
    fine = fine_spot(Star(Pupil(4.0), 300.0, 200.0), PITCH_UM, (1,))
    one = fine.light[1]
    away = 2 * fine.steps + 1
    two = np.roll(one, away, axis=1) + np.roll(one, -away, axis=1)
    measured = truth(type(fine)({1: two}, fine.steps, fine.left_px, fine.top_px), 1, CENTRE_PX)
    alone = truth(fine, 1, CENTRE_PX)
    assert measured.core_parts == 2
    apart = 2 * away / fine.steps
    assert measured.core_length_px == pytest.approx(apart + alone.core_length_px, abs=0.5)
    assert measured.skirt_length_px == pytest.approx(apart + alone.skirt_length_px, abs=0.8)
