"""Measures of a noiseless spot against closed forms (normal quantiles, line, disc, Airy)."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nightglass.optics.diffraction import airy_intensity
from nightglass.optics.extent import NoLightError, extent, trailed, within

STEP = 0.25


def grid(rows: int, columns: int, x: float, y: float, step: float = STEP):
    """Return columns and rows [px] from a place."""
    return (
        np.arange(columns)[None, :] * step - x,
        np.arange(rows)[:, None] * step - y,
    )


def gaussian(sigma_along: float, sigma_across: float, angle: float, rows=340, columns=300):
    dx, dy = grid(rows, columns, 37.3, 42.6)
    u = dx * math.cos(angle) + dy * math.sin(angle)
    v = -dx * math.sin(angle) + dy * math.cos(angle)
    return np.exp(-(u**2) / (2 * sigma_along**2) - v**2 / (2 * sigma_across**2))


def test_gaussian_lengths_places_and_angle():
    # 5-95 % of a Gaussian: 3.289707 sigma (normal quantiles, NIST e-Handbook 1.3.6.6.1, from
    # memory); noise area of a Gaussian 4 pi s1 s2 (closed form).
    found = extent(gaussian(3.0, 2.0, 0.5), STEP)
    # The aperture of 1.5 lengths holds all but 1e-5 of the light.
    assert found.length_px == pytest.approx(3.289707 * 3, rel=2e-3)
    assert found.width_px == pytest.approx(3.289707 * 2, rel=2e-3)
    assert found.angle_degrees == pytest.approx(math.degrees(0.5), abs=0.05)
    assert (found.x_px, found.y_px) == pytest.approx((37.3, 42.6), abs=1e-3)
    assert found.noise_area_px == pytest.approx(4 * math.pi * 6, rel=2e-3)
    assert found.aperture_px == pytest.approx(1.5 * found.length_px, rel=2e-3)


def test_round_gaussian_encircled_diameters():
    # EE50 / EE80 radius 1.177410 / 1.794123 sigma: 1 - exp(-r^2 / 2 s^2).
    found = extent(gaussian(2.5, 2.5, 0.0), STEP)
    assert found.ee50_px == pytest.approx(2 * 1.177410 * 2.5, rel=3e-3)
    assert found.ee80_px == pytest.approx(2 * 1.794123 * 2.5, rel=3e-3)


def test_even_disc():
    # One axis of an even disc of diameter D: 5-95 % = 0.805384 D (semicircle law).
    dx, dy = grid(400, 380, 45.0, 50.0)
    cover = np.clip((10.0 - np.hypot(dx, dy)) / STEP + 0.5, 0, 1)
    found = extent(cover, STEP)
    assert found.length_px == pytest.approx(0.805384 * 20, rel=2e-3)
    assert found.ee50_px == pytest.approx(20 * math.sqrt(0.5), rel=3e-3)


def test_disc_larger_than_the_first_ring_is_not_taken_for_background():
    dx, dy = grid(560, 580, 140.2, 139.7, step=0.5)
    cover = np.clip((30.0 - np.hypot(dx, dy)) / 0.5 + 0.5, 0, 1)
    assert extent(cover, 0.5).length_px == pytest.approx(0.805384 * 60, rel=3e-3)


def test_even_line_has_nine_tenths_of_its_length():
    # 5-95 % of an even line of length L: 0.9 L.
    dx, dy = grid(260, 420, 52.0, 30.0)
    line = np.clip((15.0 - np.abs(dx)) / STEP + 0.5, 0, 1) * np.exp(-(dy**2) / (2 * 0.6**2))
    found = extent(line, STEP)
    assert found.length_px == pytest.approx(0.9 * 30, rel=2e-3)
    assert found.angle_degrees % 180 == pytest.approx(0.0, abs=0.1)


def test_airy_length_grows_with_the_window():
    # Why the light needs an aperture: the wings of an Airy spot never end (2.6 lambda N against
    # 1.5 in windows of different size).
    dx, dy = grid(1600, 1600, 200.0, 200.0)
    light = np.asarray(airy_intensity(np.hypot(dx, dy), 2.0, 1.0))
    narrow = within(light, STEP, 200.0, 200.0, 5.0).length_px
    wide = within(light, STEP, 200.0, 200.0, 150.0).length_px
    assert wide > 1.2 * narrow


def test_a_sloped_background_is_taken_off():
    image = gaussian(3.0, 2.0, 0.5)
    dx, dy = grid(*image.shape, 37.3, 42.6)
    tilted = extent(image + 0.3 + 0.001 * dx - 0.002 * dy, STEP)
    assert tilted.length_px == pytest.approx(extent(image, STEP).length_px, rel=1e-3)


@given(trail=st.floats(0.0, 25.0), angle=st.floats(0.0, 180.0))
@settings(max_examples=15, deadline=None)
def test_trail_keeps_the_light_and_adds_its_variance(trail: float, angle: float):
    # Variances add: sigma^2 + L^2 / 12 along the trail (closed form).
    y, x = np.mgrid[-15:16, -16:17].astype(float)
    spot = np.exp(-(x**2 + y**2) / (2 * 1.5**2))
    drawn = trailed(spot, trail, angle)
    assert drawn.sum() == pytest.approx(spot.sum(), rel=1e-9)
    rows, columns = np.indices(drawn.shape)
    u = columns * math.cos(math.radians(angle)) + rows * math.sin(math.radians(angle))
    mean = (u * drawn).sum() / drawn.sum()
    variance = (u**2 * drawn).sum() / drawn.sum() - mean**2
    assert variance == pytest.approx(1.5**2 + trail**2 / 12, rel=0.01)


def test_input_is_unchanged():
    image = gaussian(3.0, 2.0, 0.5)
    before = image.copy()
    extent(image, STEP)
    trailed(image, 4.0, 30.0)
    np.testing.assert_array_equal(image, before)


def test_bad_input():
    with pytest.raises(ValueError, match=r"image has 1 axes; a spot needs two"):
        extent(np.ones(5))
    with pytest.raises(ValueError, match=r"step_px is 0; it must be above 0"):
        extent(np.ones((5, 5)), 0)
    with pytest.raises(ValueError, match=r"trail_px is -1; a trail is 0 or longer"):
        trailed(np.ones((5, 5)), -1, 0)
    with pytest.raises(NoLightError, match=r"no light inside the aperture"):
        within(np.zeros((30, 30)), 1.0, 15.0, 15.0, 5.0)
    with pytest.raises(ValueError, match=r"aperture has outgrown the image of \(12, 12\) samples"):
        extent(np.ones((12, 12)))
