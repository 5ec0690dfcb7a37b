"""Airy's pattern against published and independently computed numbers."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from nightglass.optics.diffraction import (
    airy_dark_ring_um,
    airy_encircled_diameter_um,
    airy_energy,
    airy_fwhm_um,
    airy_intensity,
    perfect_mtf,
)


def test_full_width_at_half_maximum():
    # 1.028993969962 lambda N: documentation of photutils (AiryDiskPSF); recomputed with scipy and
    # GalSim.
    assert airy_fwhm_um(1.0, 1.0) == pytest.approx(1.028994, abs=1e-6)


def test_dark_rings_and_the_light_inside():
    # The first, 1.2196698913: documentation of astropy (AiryDisk2D); all recomputed with mpmath.
    # Light inside, 1 - J0^2 - J1^2: source of prysm.
    for ring, radius, inside in (
        (1, 1.219670, 0.837785),
        (2, 2.233131, 0.909931),
        (3, 3.238315, 0.937648),
    ):
        assert airy_dark_ring_um(ring, 1.0, 1.0) == pytest.approx(radius, abs=1e-6)
        assert airy_energy(radius, 1.0, 1.0) == pytest.approx(inside, abs=1e-6)
        assert airy_intensity(radius, 1.0, 1.0) == pytest.approx(0.0, abs=1e-12)


def test_ring_peaks():
    # Maxima of (2 J1(v) / v)^2, recomputed.
    for radius, peak in ((1.63472, 0.017498), (2.67929, 0.004158), (3.69871, 0.001601)):
        assert airy_intensity(radius, 1.0, 1.0) == pytest.approx(peak, abs=1e-6)


def test_encircled_diameters():
    # Derived, recomputed; the first agrees with GalSim's half-light radius 0.534832.
    for share, diameter in ((0.5, 1.06966), (0.8, 1.79388), (0.9, 3.80138)):
        assert airy_encircled_diameter_um(share, 1.0, 1.0) == pytest.approx(diameter, abs=1e-5)
    half_maximum = airy_energy(airy_fwhm_um(1.0, 1.0) / 2, 1.0, 1.0)
    assert half_maximum == pytest.approx(0.47445, abs=1e-5)


@pytest.mark.parametrize(
    ("f_number", "fwhm_um", "ring_um"),
    [(1.4, 0.792, 1.878), (2.8, 1.585, 3.757), (8, 4.528, 10.733)],
)
def test_worked_sizes_in_green(f_number, fwhm_um, ring_um):
    # 0.55 um; from the two tests above, 0.1 %.
    assert airy_fwhm_um(0.55, f_number) == pytest.approx(fwhm_um, rel=1e-3)
    assert 2 * airy_dark_ring_um(1, 0.55, f_number) == pytest.approx(ring_um, rel=1e-3)


def test_perfect_contrast_at_half_cutoff():
    # (2 / pi)(acos 1/2 - sqrt(3) / 4), by the formula in the documentation of opticks: 0.391002.
    cutoff = 1000 / (0.55 * 2.8)
    found = perfect_mtf([0.0, cutoff / 2, cutoff, 2 * cutoff], 0.55, 2.8)
    np.testing.assert_allclose(found, [1.0, 0.391002, 0.0, 0.0], atol=1e-6)


@given(st.floats(0.01, 3.0))
def test_energy_is_the_integral_of_the_intensity(radius):
    # The whole light is (lambda N)^2 4 / pi over the peak.
    summed = quad(lambda r: 2 * np.pi * r * float(airy_intensity(r, 1.0, 1.0)), 0, radius)[0]
    assert summed * np.pi / 4 == pytest.approx(float(airy_energy(radius, 1.0, 1.0)), abs=1e-7)


@given(st.floats(0.01, 0.98), st.floats(0.4, 0.7), st.floats(0.9, 22))
def test_encircled_diameter_is_the_inverse_of_the_energy(share, wavelength_um, f_number):
    radius = airy_encircled_diameter_um(share, wavelength_um, f_number) / 2
    assert float(airy_energy(radius, wavelength_um, f_number)) == pytest.approx(share, abs=1e-9)


def test_bad_input():
    with pytest.raises(ValueError, match=r"wavelength_um is 0; green light is 0\.55"):
        airy_fwhm_um(0.0, 2.8)
    with pytest.raises(ValueError, match="f_number is -1; it must be above 0"):
        airy_energy(1.0, 0.55, -1)
    with pytest.raises(ValueError, match="ring is 0; dark rings are counted from 1"):
        airy_dark_ring_um(0, 0.55, 2.8)
    with pytest.raises(ValueError, match=r"share is 0\.99; give 0 to 0\.98 of the light"):
        airy_encircled_diameter_um(0.99, 0.55, 2.8)
