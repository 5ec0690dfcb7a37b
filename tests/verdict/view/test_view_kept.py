"""What the view keeps of planted spots, against closed forms and numeric integrals."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import dblquad, quad
from scipy.ndimage import gaussian_filter
from scipy.special import i0e

from nightglass.verdict.view.kept import (
    peak_kept,
    peak_power,
    peaks_kept,
    zone_at_limit,
    zone_kept,
)

ZERO = np.zeros(1)


def gaussian(xx: float, yy: float, xy: float = 0.0, shift=(0.0, 0.0), half: int = 0) -> np.ndarray:
    """A Gaussian spot on samples 1 px apart, by its second moments [px^2]."""
    half = half or math.ceil(5.5 * math.sqrt(max(xx, yy))) + 2
    y, x = np.mgrid[-half : half + 1, -half : half + 1].astype(float)
    x, y = x - shift[0], y - shift[1]
    c = np.linalg.inv([[xx, xy], [xy, yy]])
    spot = np.exp(-0.5 * (c[0, 0] * x * x + 2 * c[0, 1] * x * y + c[1, 1] * y * y))
    return spot / spot.sum()


def kept(*args, **named) -> float:
    return math.exp(peak_kept(*args, **named).log_peak[0])


@pytest.mark.parametrize("sigma", [0.8, 1.02, 1.58, 2.2, 6.0])
@pytest.mark.parametrize("variance", [1.0, 4.0, 20.0])
@pytest.mark.parametrize("shift", [(0.0, 0.0), (0.3, 0.1), (0.5, 0.5)])
def test_round_gaussian_keeps_s2_over_s2_plus_v(sigma, variance, shift):
    """Two Gaussians make one whose variances add up; its peak is 1 / (2 pi variance)."""
    expected = sigma**2 / (sigma**2 + variance)
    assert kept(gaussian(variance, variance, 0.0, shift), sigma) == pytest.approx(expected, 6e-4)


@pytest.mark.parametrize("sigma", [1.02, 1.58, 2.2])
def test_elliptical_gaussian_keeps_the_ratio_of_determinants(sigma):
    moments = np.array([[9.0, 2.5], [2.5, 3.0]])
    eye = sigma**2 * np.eye(2)
    expected = sigma**2 / math.sqrt(np.linalg.det(moments + eye))
    assert kept(gaussian(9.0, 3.0, 2.5), sigma) == pytest.approx(expected, rel=1e-4)


def test_noise_area_of_a_viewed_gaussian_is_four_pi_its_variance():
    found = math.exp(peak_kept(gaussian(4.0, 4.0), 1.58).log_area[0])
    assert found == pytest.approx(4 * math.pi * (4.0 + 1.58**2), rel=1e-5)


@pytest.mark.parametrize("sigma", [1.02, 1.58, 2.2])
@pytest.mark.parametrize("trail", [0.5, 4.0, 12.0])
@pytest.mark.parametrize("angle", [0.0, 37.0, 90.0, 151.0])
def test_elliptical_gaussian_along_an_even_trail_by_numeric_integration(sigma, trail, angle):
    """In the middle of the trail the peak is the mean of the Gaussian along it (scipy's quad)."""
    moments = np.array([[6.0, 1.5], [1.5, 2.5]]) + sigma**2 * np.eye(2)
    inverse = np.linalg.inv(moments)
    t = math.radians(angle)
    way = np.array([math.cos(t), math.sin(t)])
    bend = float(way @ inverse @ way)
    mean = quad(lambda u: math.exp(-0.5 * bend * (u * trail) ** 2), -0.5, 0.5)[0]
    expected = sigma**2 / math.sqrt(np.linalg.det(moments)) * mean
    spot = gaussian(6.0, 2.5, 1.5)
    assert kept(spot, sigma, trail, angle) == pytest.approx(expected, rel=1e-3)


def test_noise_area_along_an_even_trail_by_numeric_integration():
    """1 / area is the integral of the squared light: a Gaussian of twice the variance, read at
    the distance of any two points of the trail."""
    variance, trail = 3.0 + 1.58**2, 9.0
    twice, _ = dblquad(
        lambda a, b: math.exp(-((a - b) ** 2) * trail**2 / (4 * variance)), 0, 1, 0, 1
    )
    expected = 4 * math.pi * variance / twice
    found = math.exp(peak_kept(gaussian(3.0, 3.0), 1.58, trail, 20.0).log_area[0])
    assert found == pytest.approx(expected, rel=1e-4)


def test_a_lopsided_spot_against_a_filter_in_small_steps():
    """A comet's tail: the peak by scipy's Gaussian filter on samples 1/8 px apart."""
    parts = [(math.exp(-0.3 * k), 1.4 + 0.4 * k, 1.3 * k) for k in range(9)]
    spot = sum(w * gaussian(v, v, 0.0, (d, 0.0), half=34) for w, v, d in parts)
    fine = np.zeros((401, 561))
    y, x = np.mgrid[-200:201, -200:361] / 8
    for w, v, d in parts:
        fine += w * np.exp(-0.5 * ((x - d) ** 2 + y**2) / v) / v
    fine /= fine.sum()
    peak = gaussian_filter(fine, 1.58 * 8, truncate=6).max()
    expected = peak * 2 * math.pi * (1.58 * 8) ** 2
    # Parabolas between samples: exact for Gaussians, within half a percent for this.
    assert kept(spot, 1.58) == pytest.approx(expected, rel=5e-3)


@pytest.mark.parametrize("radius", [2.5, 4.2, 6.0, 9.2])
@pytest.mark.parametrize("sigma", [1.02, 1.6, 2.5])
def test_a_ring_keeps_what_its_closed_form_says(radius, sigma):
    """A thin ring of radius r through a Gaussian: exp(-(r^2 + x^2) / 2 s^2) I0(r x / s^2).

    The circle's share of the light at each x is the modified Bessel function (Rice's law). Its top
    is flat, where the parabola between samples once ran off to a factor of e.
    """
    thick = 0.9
    half = math.ceil(radius + 6 * thick) + 2
    y, x = np.mgrid[-half : half + 1, -half : half + 1].astype(float)
    r = np.hypot(x - 0.31, y + 0.17)
    ring = np.exp(-((radius - r) ** 2) / (2 * thick**2)) * i0e(radius * r / thick**2)
    total = sigma**2 + thick**2
    at = np.linspace(0, radius + 3 * sigma, 4001)
    top = (np.exp(-((radius - at) ** 2) / (2 * total)) * i0e(radius * at / total)).max()
    for angle in (0.0, 23.0, 45.0, 71.0):
        # A trail too short to count: its angle still turns the samples' sums.
        found = kept(ring, sigma, 0.01, angle)
        assert found == pytest.approx(top * sigma**2 / total, rel=0.01)


def test_a_sharper_point_than_the_eye_keeps_nearly_all_and_never_more():
    point = np.zeros((9, 9))
    point[4, 4] = 1.0
    assert kept(point, 3.0) == pytest.approx(1.0, abs=2e-3)
    assert kept(point, 3.0) <= 1.0


@given(
    sigma=st.floats(0.8, 4.0),
    shortest=st.floats(0.0, 12.0),
    spread=st.floats(1.0, 2.9),
    length=st.floats(1.0, 4.0),
    width=st.floats(0.8, 2.5),
)
@settings(max_examples=25, deadline=None)
def test_between_the_drawn_trails_the_answer_is_within_two_percent(
    sigma, shortest, spread, length, width
):
    spot = gaussian(length**2, width**2)
    trails = np.linspace(shortest, shortest * spread, 7)
    angles = np.array([3.0, 171.0, 44.0, 97.0, 128.0, 64.0, 20.0])
    found = peaks_kept(spot, sigma, trails, angles)
    for k in range(7):
        one = peak_kept(spot, sigma, trails[k], angles[k])
        assert found.log_peak[k] == pytest.approx(one.log_peak[0], abs=0.02)
        assert found.log_area[k] == pytest.approx(one.log_area[0], abs=0.02)


@given(sigma=st.floats(0.8, 4.0), length=st.floats(0.8, 6.0), trail=st.floats(0.0, 20.0))
@settings(max_examples=40, deadline=None)
def test_one_percent_of_any_input_moves_it_by_less_than_three(sigma, length, trail):
    start = peak_kept(gaussian(length**2, length**2, half=30), sigma, trail, 30.0).log_peak[0]
    wider = peak_kept(gaussian(1.0201 * length**2, 1.0201 * length**2, half=30), sigma, trail, 30.0)
    eye = peak_kept(gaussian(length**2, length**2, half=30), 1.01 * sigma, trail, 30.0)
    moved = peak_kept(gaussian(length**2, length**2, half=30), sigma, 1.01 * trail, 30.0)
    for other in (wider, eye, moved):
        assert abs(other.log_peak[0] - start) < 0.03


@pytest.mark.parametrize(("variance", "trail"), [(2.0, 0.0), (6.0, 5.0), (15.0, 12.0)])
def test_power_is_the_slope_of_a_round_gaussian(variance, trail):
    sigma, step = 1.58, 0.02
    logs = [
        float(peak_kept(gaussian(v, v, half=30), sigma, trail).log_peak[0])
        for v in (variance * (1 - step), variance, variance * (1 + step))
    ]
    slope = (logs[2] - logs[0]) / math.log((1 + step) / (1 - step))
    found = peak_power(np.array([logs[1]]), np.array([trail]), sigma)[0]
    assert found == pytest.approx(slope, abs=0.06)


def test_at_limit_counts_with_the_upper_bound_and_says_so(build):
    zone = build.zone(at_most_px=3.0)
    found = math.exp(zone_kept(zone, 1.58, ZERO, ZERO).log_peak[0])
    variance = (3.0 / 3.289707) ** 2
    assert zone_at_limit(zone)
    assert not zone_at_limit(build.zone())
    assert found == pytest.approx(1.58**2 / (1.58**2 + variance), rel=5e-3)


def test_what_has_no_meaning_is_refused():
    spot = gaussian(2.0, 2.0)
    with pytest.raises(ValueError, match="sigma_px is 0; the eye's blur is above 0 px"):
        peak_kept(spot, 0.0)
    with pytest.raises(ValueError, match="trail_px is -1; a trail is 0 or longer"):
        peak_kept(spot, 1.0, -1.0)
    with pytest.raises(ValueError, match="the spot holds no light: its samples sum to 0 or less"):
        peak_kept(-spot, 1.0)
