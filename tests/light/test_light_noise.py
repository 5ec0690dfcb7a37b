"""Signal-to-noise against the CCD equation's examples and against drawn frames."""

import math

import numpy as np
import pytest
from astropy.stats import signal_to_noise_oir_ccd
from hypothesis import given
from hypothesis import strategies as st

from nightglass.light.noise import (
    ONE_COLOUR,
    ColourMix,
    glow_snr,
    limiting_star_e,
    mosaic_mix,
    noise_lengthening_percent,
    pixels_per_square_degree,
    star_snr,
)

BAYER = mosaic_mix("bayer")


def test_one_colour_is_the_ccd_equation():
    # An outside library: astropy. Equation also read in notes of the University of Sheffield.
    for star, area, sky, dark, read in ((24013 * 5, 1, 620 * 5, 1.8, 5), (1000, 9, 50, 2, 3)):
        outside = signal_to_noise_oir_ccd(1, star, sky, dark, read, area)
        assert star_snr(star, area, sky + dark, read) == pytest.approx(outside)


def test_sensitivity_threshold():
    # Efficiency 0.6, 0.25 counts per electron, dark noise 3 e: 6.191 photons at SNR 1 by the
    # closed form of EMVA 1288 (read in the package emva1288); exact root 3.7532 e.
    noise = math.sqrt(3**2 + 1 / (12 * 0.25**2))
    assert limiting_star_e(1, 0, noise, snr=1) == pytest.approx(3.7532, abs=1e-4)
    assert (noise + 0.5) / 0.6 == pytest.approx(6.191, abs=1e-3)


@given(
    st.floats(1, 300),
    st.floats(0, 1e4),
    st.floats(0.5, 30),
    st.sampled_from(["bayer", "6x6", "none"]),
    st.floats(1, 50),
)
def test_limit_is_the_inverse_of_snr(area, sky, noise, mosaic, snr):
    mix = mosaic_mix(mosaic)
    star = limiting_star_e(area, sky, noise, mix, snr)
    assert float(star_snr(star, area, sky, noise, mix)) == pytest.approx(snr, rel=1e-9)


def test_one_colour_is_a_mix_of_equal_ones():
    equal = ColourMix((0.25, 0.5, 0.25), (1.0, 1.0, 1.0))
    found = star_snr([100.0, 1e4], 12.0, 40.0, 3.0, equal)
    np.testing.assert_allclose(found, star_snr([100.0, 1e4], 12.0, 40.0, 3.0, ONE_COLOUR))


def _mosaic_spot(shift_x: float, shift_y: float, sigma: float) -> tuple[np.ndarray, np.ndarray]:
    """A Gaussian star on Bayer samples of a non-square frame, and the samples' parts of light."""
    rows, columns = np.indices((19, 23))
    parts = np.ones(rows.shape)
    parts[(rows % 2 == 0) & (columns % 2 == 0)] = BAYER.parts[0]
    parts[(rows % 2 == 1) & (columns % 2 == 1)] = BAYER.parts[2]
    square = (columns - 11 - shift_x) ** 2 + (rows - 9 - shift_y) ** 2
    return np.exp(-square / (2 * sigma**2)) / (2 * math.pi * sigma**2) * parts, parts


def test_snr_against_drawn_frames():
    # A star near the limit on a mosaic, 4000 drawn frames at sub-pixel places: mean over scatter
    # of the flux by the matched filter.
    rng = np.random.default_rng(20260506)
    star_e, sky_e, noise_e, sigma = 250.0, 30.0, 3.0, 1.7
    fluxes = []
    for _ in range(4000):
        spot, parts = _mosaic_spot(*rng.uniform(-1, 1, 2), sigma)
        sky = sky_e * parts
        seen = rng.poisson(star_e * spot + sky) + rng.normal(0, noise_e, spot.shape) - sky
        weights = spot / (sky + noise_e**2)
        fluxes.append(np.sum(weights * seen) / np.sum(weights * spot))
    expected = star_snr(star_e, 4 * math.pi * sigma**2, sky_e, noise_e, BAYER)
    # 2 % by the closed form's short cut (next test), 1.1 % by 4000 draws.
    assert np.mean(fluxes) / np.std(fluxes) == pytest.approx(float(expected), rel=0.05)


@pytest.mark.parametrize(("star_e", "over"), [(150.0, 0.02), (250.0, 0.025), (5000.0, 0.055)])
def test_the_closed_form_is_a_little_above_the_best_filter(star_e, over):
    # The best weights know the star's own photons: SNR^2 = sum of s^2 / (background + s).
    rng = np.random.default_rng(7)
    squares = []
    for _ in range(200):
        spot, parts = _mosaic_spot(*rng.uniform(-1, 1, 2), 1.7)
        light = star_e * spot
        squares.append(np.sum(light**2 / (30.0 * parts + 9.0 + light)))
    ratio = float(star_snr(star_e, 4 * math.pi * 1.7**2, 30.0, 3.0, BAYER)) / math.sqrt(
        np.mean(squares)
    )
    assert 1.0 < ratio < 1.0 + over


def test_averaging_frames():
    # Noise falls as the root of the number of frames (statistics): n times the light, n times
    # the sky, n times the squared read noise.
    one = star_snr(300.0, 20.0, 100.0, 4.0, BAYER)
    nine = star_snr(2700.0, 20.0, 900.0, 12.0, BAYER)
    assert nine == pytest.approx(3 * one)


def test_glow_per_square_degree():
    # One colour by hand: n g^2 / (g + s + r^2).
    found = glow_snr(8.0, 30.0, 3.0, 1000.0)
    assert found == pytest.approx(math.sqrt(1000 * 64 / (8 + 30 + 9)))
    assert glow_snr(0.0, 30.0, 3.0, 1000.0) == 0.0
    # 4.35 um at 24 mm: a pixel is 37.4 arcseconds.
    pixels = pixels_per_square_degree((4.35e-3 / 24) ** 2)
    assert pixels == pytest.approx((3600 / 37.385) ** 2, rel=1e-3)


@given(st.floats(0.1, 1e3), st.floats(0, 1e3), st.floats(0, 20))
def test_glow_grows_with_light_and_falls_with_read_noise(glow, sky, noise):
    base = glow_snr(glow, sky, noise, 100.0, BAYER)
    assert glow_snr(2 * glow, 2 * sky, noise, 100.0, BAYER) > base
    assert glow_snr(glow, sky, noise + 1, 100.0, BAYER) < base


def test_read_noise_lengthens_the_noise():
    # Sky of C times the squared read noise: C = 10 adds 5 %, C = 5 adds 10 %. Trade rule, computed.
    assert noise_lengthening_percent(3.0, 10 * 9.0) == pytest.approx(4.88, abs=5e-3)
    assert noise_lengthening_percent(3.0, 5 * 9.0) == pytest.approx(9.54, abs=5e-3)
    assert noise_lengthening_percent(3.0, 0.0) == np.inf


def test_mosaics():
    assert sum(mosaic_mix("6x6").shares) == pytest.approx(1.0)
    assert mosaic_mix("6x6").light > mosaic_mix("bayer").light
    assert mosaic_mix("none") == ONE_COLOUR


def test_no_star_has_no_signal_and_inputs_stay():
    stars = np.array([0.0, 10.0])
    assert star_snr(stars, 10.0, 5.0, 1.0)[0] == 0.0
    np.testing.assert_array_equal(stars, [0.0, 10.0])


def test_bad_input():
    with pytest.raises(ValueError, match="noise_area_px is 0; a spot covers more than 0 pixels"):
        star_snr(1.0, 0.0, 1.0, 1.0)
    with pytest.raises(ValueError, match="background_e is -1; it can't be negative"):
        limiting_star_e(1.0, -1.0, 1.0)
    with pytest.raises(ValueError, match="snr is 0; a signal-to-noise is above 0"):
        limiting_star_e(1.0, 1.0, 1.0, snr=0)
    with pytest.raises(ValueError, match="one of each per colour, and the shares add up to 1"):
        ColourMix((0.5, 0.4), (1.0, 1.0))
    with pytest.raises(ValueError, match="mosaic '4x4' is not known; use bayer, 6x6, none"):
        mosaic_mix("4x4")
