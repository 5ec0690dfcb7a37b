"""Noise behind whole counts: drawn, rounded, and found again."""

from __future__ import annotations

import numpy as np
import pytest

from nightglass.sensor.quantised import LEAST_SIGMA, rounded_variance, sigma_before_rounding
from nightglass.sensor.records import Known


@pytest.mark.parametrize("sigma", [0.3, 0.45, 0.8, 1.5])
@pytest.mark.parametrize("mean", [512.0, 512.25, 512.5])
def test_variance_of_rounded_samples_is_that_of_drawn_ones(sigma, mean):
    rng = np.random.default_rng(1)
    drawn = np.rint(rng.normal(mean, sigma, 400_000))
    assert rounded_variance(sigma, mean) == pytest.approx(float(np.var(drawn)), rel=0.01)


def test_wide_noise_grows_by_a_twelfth_of_a_squared_count():
    # EMVA 1288 Release 3.1, clause 2.2: quantisation noise 1/12 DN^2.
    assert rounded_variance(1.9, 512.3) == pytest.approx(1.9**2 + 1 / 12, rel=1e-6)
    assert rounded_variance(7.0, 0.0) == 49 + 1 / 12


@pytest.mark.parametrize("mean", [512.0, 512.3, 512.5])
@pytest.mark.parametrize("sigma", [0.5, 0.7, 1.2, 4.0])
def test_noise_comes_back_from_its_rounded_variance(sigma, mean):
    variance = rounded_variance(sigma, mean, 0.2)
    found, hidden = sigma_before_rounding(Known(variance, 1e-5), mean, 0.2)
    assert not hidden
    assert found.value == pytest.approx(sigma, rel=1e-3)


@pytest.mark.parametrize("mean", [512.0, 512.4, 512.5])
def test_noise_under_the_standards_limit_is_a_bound_that_holds(mean):
    # EMVA 1288 Release 3.1, clause 6.6: below a variance of 0.24 only sigma < 0.40 counts is said.
    for sigma in (0.05, 0.2, 0.35):
        found, hidden = sigma_before_rounding(Known(rounded_variance(sigma, mean), 1e-4), mean, 0.0)
        assert hidden
        assert found.value is None
        assert found.at_most >= max(sigma, LEAST_SIGMA)
    assert found.at_most < 0.6


def test_multiplied_numbers_are_rounded_in_their_own_steps():
    rng = np.random.default_rng(3)
    counts = 2 * np.rint(rng.normal(256.1, 1.1, 400_000))
    variance = float(np.var(counts))
    found, _ = sigma_before_rounding(Known(variance, variance * 0.002), 512.2, 0.0, step=2.0)
    assert found.value == pytest.approx(2.2, rel=0.01)


def test_nothing_is_made_of_nothing():
    assert sigma_before_rounding(Known(), 512.0, 0.0) == (Known(), False)
