"""Focus, distance and source size against textbook and worked examples."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nightglass.optics.defocus import (
    defocus_blur_um,
    hyperfocal_m,
    largest_source_mm,
    off_axis_distance_m,
    off_axis_focus_error_um,
    source_image_um,
    star_blur_um,
)


def test_blur_of_a_focus_error():
    # dz = 20 um at f/1.8: 11.111 um; thin-lens geometry, recomputed. Its rms radius D/sqrt(8).
    assert defocus_blur_um(20.0, 1.8) == pytest.approx(11.111, abs=1e-3)
    assert float(defocus_blur_um(-20.0, 1.8)) / math.sqrt(8) == pytest.approx(3.928, abs=1e-3)


def test_blur_of_a_star_when_focus_is_near():
    # 20 mm f/1.8 focused at 5 m: the sensor stands behind the focus of the stars by the lens
    # equation, 1 / image = 1 / f - 1 / object, and the cone of light is f / N wide at the lens.
    focused = 1 / (1 / 20 - 1 / 5000)
    cone = 20 / 1.8 * (focused - 20) / 20
    assert star_blur_um(20.0, 1.8, 5.0) == pytest.approx(1000 * cone)
    assert star_blur_um(20.0, 1.8, 5.0) == pytest.approx(44.623, abs=1e-3)


def test_hyperfocal_distances():
    # 35 mm f/11, c 0.03: 3.747 m; the worked example of a museum forum for pocket calculators
    # (2018) prints 3.75; without the focal length 3712.12 mm.
    assert hyperfocal_m(35, 11, 0.03) == pytest.approx(3.747, abs=5e-4)
    assert hyperfocal_m(35, 11, 0.03) * 1000 - 35 == pytest.approx(3712.12, abs=5e-3)
    # Textbook form; recomputed.
    assert hyperfocal_m(50, 8, 0.03) == pytest.approx(10.467, abs=1e-3)
    assert hyperfocal_m(24, 2.8, 0.03) == pytest.approx(6.881, abs=1e-3)
    # One lens, a disc for prints and one for stars: 7.43 and 50.5 m. Derived.
    assert hyperfocal_m(20, 1.8, 0.03) == pytest.approx(7.43, abs=5e-3)
    assert hyperfocal_m(20, 1.8, 0.0044) == pytest.approx(50.5, abs=0.05)


@given(st.floats(8, 85), st.floats(1.2, 16), st.floats(0.003, 0.05))
def test_focused_at_hyperfocal_stars_get_just_the_allowed_disc(f, n, c):
    assert float(star_blur_um(f, n, hyperfocal_m(f, n, c))) == pytest.approx(1000 * c)


def test_turning_the_camera_defocuses_the_bench_star():
    # At 10 m, corner of 36 x 24: 0.059 % of height at 24 mm f/1.4, 0.025 at 14 mm f/2.8, 0.064
    # at 35 mm f/1.4; stand at 13.5, 18.4, 11.8 m. Computed trade values, rounded.
    for f, n, percent, stand_m in (
        (24, 1.4, 0.059, 13.5),
        (14, 2.8, 0.025, 18.4),
        (35, 1.4, 0.064, 11.8),
    ):
        corner = math.degrees(math.atan(math.hypot(18, 12) / f))
        blur_um = defocus_blur_um(off_axis_focus_error_um(f, 10.0, corner), n)
        assert blur_um / 24000 * 100 == pytest.approx(percent, abs=2e-3)
        assert off_axis_distance_m(10.0, corner) == pytest.approx(stand_m, abs=0.06)


def test_size_of_the_source():
    # A bare 5 mm lamp at 10 m with 24 mm: 12 um. Half a pixel of 4.35 um allows 0.9 mm.
    assert source_image_um(5.0, 24.0, 10.0) == pytest.approx(12.0)
    limit = largest_source_mm(4.35, 24.0, 10.0)
    assert source_image_um(limit, 24.0, 10.0) == pytest.approx(4.35 / 2)


@pytest.mark.parametrize(
    ("distance_mm", "size_mm", "dpi"),
    [(250, 0.07272, 349.3), (500, 0.14544, 174.6), (1000, 0.29089, 87.3)],
)
def test_one_minute_of_arc_at_a_distance(distance_mm, size_mm, dpi):
    # Acuity 1.0 is a gap of 1' (ISO 8596, clauses 3 and 4, text read); tan 1', recomputed. A disc
    # of that size on a print is what the limits of sharpness rest on.
    seen = distance_mm * math.tan(math.radians(1 / 60))
    assert seen == pytest.approx(size_mm, abs=5e-6)
    assert 25.4 / seen == pytest.approx(dpi, abs=0.05)


def test_customary_discs_of_confusion():
    # Diagonal of 36 x 24 over 1500 and 1730: 0.02884, 0.02501 mm. Common practice: an
    # encyclopaedia's page traces 1730 to 0.025 mm marked on lenses and calls 1500 the later rule.
    diagonal = math.hypot(36, 24)
    assert diagonal == pytest.approx(43.267, abs=5e-4)
    assert diagonal / 1500 == pytest.approx(0.02884, abs=5e-6)
    assert diagonal / 1730 == pytest.approx(0.02501, abs=5e-6)


def test_bad_input():
    with pytest.raises(ValueError, match="f_number is 0; it must be above 0"):
        defocus_blur_um(np.array([1.0]), 0)
    with pytest.raises(ValueError, match=r"focused_at_m is 0\.01; it must be more than the focal"):
        star_blur_um(20, 2.8, [5.0, 0.01])
    with pytest.raises(ValueError, match="off_axis_degrees reaches 90 or more"):
        off_axis_distance_m(10, 90)
