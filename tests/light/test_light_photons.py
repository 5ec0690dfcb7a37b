"""Photons of stars and sky against published zero points."""

import math

import numpy as np
import pytest
from astropy import constants
from hypothesis import given
from hypothesis import strategies as st

from nightglass.light.defaults import ALL_DEFAULTS, ZERO_POINT
from nightglass.light.photons import (
    SQUARE_ARCSEC_PER_SR,
    SQUARE_DEGREES_OF_SKY,
    LightPath,
    added_brightness,
    star_e_per_s,
    star_magnitude,
    surface_e_per_s_px,
)
from nightglass.optics.projection import pixel_solid_angle_sr

SQUARE_METRE = LightPath(1e6, 1.0, 1.0)


def test_zero_point():
    # 3640 Jy, band 0.16 wide: Bessell 1979 as tabulated on an observatory's course page (read).
    # 1 Jy = 1.509e7 photons per second, square metre and unit of relative band, by Planck's h.
    photons_per_jansky = 1e-26 / constants.h.value
    assert photons_per_jansky == pytest.approx(1.509e7, rel=1e-3)
    classic = 3640 * 0.16 * photons_per_jansky
    assert ZERO_POINT.value == pytest.approx(classic, rel=0.03)
    # 996 photons per s, cm^2 and Angstrom at 5450 A, from 3.631e-9 erg (Bessell, Castelli & Plez
    # 1998, A&A 333, 231, table A2, as sources of photometric libraries quote it), over the
    # equivalent width of V, 862 to 893 A (recomputed).
    energy = constants.h.cgs.value * constants.c.cgs.value / 5450e-8
    assert 3.631e-9 / energy == pytest.approx(996, abs=1)
    assert 996e4 * 862 * 0.97 < ZERO_POINT.value < 996e4 * 893 * 1.03
    # By integration of Vega over V: 8.75e9 to 8.99e9 (recomputed).
    assert 8.75e9 <= ZERO_POINT.value <= 8.99e9


def test_published_faint_example():
    # V 23.90 gives 2.42 photons per second and square metre (same page).
    assert star_e_per_s(23.90, SQUARE_METRE) == pytest.approx(2.42, rel=5e-3)


def test_star_photons_through_a_lens():
    # 14 mm f/2.8 taken literally, no losses: 1.726e5 at V 0, 687 at V 6; derived with 8.79e9.
    path = LightPath(math.pi / 4 * 5.0**2, 1.0, 1.0)
    assert star_e_per_s(0.0, path) == pytest.approx(1.726e5, rel=2e-3)
    assert star_e_per_s(6.0, path) == pytest.approx(687, rel=2e-3)


def test_sky_photons_do_not_depend_on_focal_length():
    # 21.6 mag per square arcsec, f/2.8, 4.35 um: 1.624 photons per second and pixel; derived.
    for focal_mm in (14.0, 50.0):
        path = LightPath(math.pi / 4 * (focal_mm / 2.8) ** 2, 1.0, 1.0)
        pixel_sr = pixel_solid_angle_sr(0.0, 0.0, 4.35, focal_mm)
        assert surface_e_per_s_px(21.6, path, pixel_sr) == pytest.approx(1.624, rel=2e-3)


def test_sky_in_the_corner_falls_as_cos4():
    f = 14.0
    path = LightPath(19.6, 0.8, 0.4)
    theta = math.atan(math.hypot(18, 12) / f)
    centre = surface_e_per_s_px(21.6, path, pixel_solid_angle_sr(0, 0, 4.35, f))
    corner = surface_e_per_s_px(
        21.6, path, pixel_solid_angle_sr(18, 12, 4.35, f), pupil_falloff=math.cos(theta)
    )
    assert corner / centre == pytest.approx(math.cos(theta) ** 4)


def test_units_of_solid_angle():
    assert pytest.approx(4.254517e10, rel=1e-6) == SQUARE_ARCSEC_PER_SR
    assert pytest.approx(41252.96, abs=0.01) == SQUARE_DEGREES_OF_SKY


@given(st.floats(-2, 20), st.floats(0.05, 1.0), st.floats(0, 2))
def test_magnitude_is_the_inverse(magnitude, falloff, extinction):
    path = LightPath(96.9, 0.9, 0.5)
    e_per_s = star_e_per_s(magnitude, path, falloff, extinction)
    assert float(star_magnitude(e_per_s, path, falloff, extinction)) == pytest.approx(magnitude)


def test_two_lights_together():
    assert added_brightness(21.6, 21.6) == pytest.approx(21.6 - 2.5 * math.log10(2))
    np.testing.assert_allclose(added_brightness(21.6, [np.inf]), [21.6])


def test_faintest_and_impossible_stars():
    assert star_magnitude(0.0, SQUARE_METRE) == np.inf
    assert np.isnan(star_magnitude(-1.0, SQUARE_METRE))


def test_every_default_says_where_it_comes_from():
    assert len({d.name for d in ALL_DEFAULTS}) == len(ALL_DEFAULTS)
    for default in ALL_DEFAULTS:
        assert default.source
        assert default.text.startswith(f"{default.value:g}")


def test_bad_input():
    with pytest.raises(ValueError, match="pupil_area_mm2 is 0; it must be above 0"):
        LightPath(0, 1, 1)
    with pytest.raises(ValueError, match=r"transmission is 1\.5; it is a share above 0"):
        LightPath(1, 1.5, 1)
    with pytest.raises(ValueError, match="efficiency is 0; it is a share above 0"):
        LightPath(1, 1, 0)
