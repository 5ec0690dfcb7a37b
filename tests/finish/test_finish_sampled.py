"""Large pictures: the squares that stand for them, and the Gaussian against a reference library."""

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter

from nightglass.finish import profiles
from nightglass.finish.bands import details
from nightglass.finish.profiles import light_of_counts, profile_of, to_light
from nightglass.finish.sampled import (
    MOST_PX,
    SQUARE_PX,
    gathered,
    some,
    squares_of,
    whole_steps,
)
from nightglass.finish.smoothing import enlarged, means, smoothed


@pytest.mark.parametrize("shape", [(61, 97), (13, 40), (200, 5)])
@pytest.mark.parametrize("sigma_px", [0.7, 2.0, 6.0])
def test_the_gaussian_is_that_of_scipy(shape, sigma_px):
    plane = np.random.default_rng(3).normal(1, 0.3, shape).astype(np.float32)
    truth = gaussian_filter(plane.astype(np.float64), sigma_px)
    assert smoothed(plane, sigma_px) == pytest.approx(truth, abs=2e-6)
    turned = smoothed(plane.T, sigma_px)
    assert pytest.approx(truth, abs=2e-6) == turned.T


def test_means_of_squares_leave_out_what_is_over():
    plane = np.arange(7 * 9, dtype=np.float32).reshape(7, 9)
    found = means(plane, 3)
    assert found.shape == (2, 3)
    assert found[1, 2] == pytest.approx(plane[3:6, 6:9].mean())
    assert means(plane, 1) is plane


@pytest.mark.parametrize(
    "shape", [(4000, 6000), (6000, 4000), (6336, 9504), (2600, 2600), (2000, 20000)]
)
def test_squares_spread_evenly_over_a_large_picture(shape):
    squares = squares_of(shape)
    area = len(squares) * SQUARE_PX**2
    assert 0.5 * MOST_PX < area < 1.2 * MOST_PX
    assert len(set(map(str, squares))) == len(squares)
    middles = np.array([(a.start + b.start, 0) for a, b in squares]) + SQUARE_PX
    assert middles[:, 0].mean() == pytest.approx(sum(shape) / 2, rel=0.1)
    columns = {b.start for _, b in squares}
    # Each column of squares is seen, or where there are fewer squares none of them twice.
    assert len(columns) == min(shape[1] // SQUARE_PX, len(squares))
    assert all(a.stop <= shape[0] and b.stop <= shape[1] for a, b in squares)


def test_a_small_picture_is_taken_whole():
    assert squares_of((2000, 3000)) == ()
    plane = np.ones((4, 5))
    assert gathered(plane, ()) is plane
    assert whole_steps(plane > 0, ()).all()


def test_noise_of_the_squares_is_that_of_the_whole():
    """White noise of 1: a band of blocks of s px has sqrt(3/4) / s, sampled or not."""
    shape = (2600, 2600)
    plane = np.random.default_rng(8).standard_normal(shape, dtype=np.float32)
    squares = squares_of(shape)
    sky = np.ones(shape, dtype=bool)
    found = dict(details([gathered(plane, squares)], gathered(sky, squares)))
    for scale in (1, 8, 64):
        (values,) = found[scale]
        truth = 0.75**0.5 / scale
        assert values.std() == pytest.approx(truth, rel=4 / (2 * values.size) ** 0.5)


def test_steps_between_squares_are_none():
    squares = squares_of((4000, 6000))
    sky = whole_steps(gathered(np.ones((4000, 6000), dtype=bool), squares), squares)
    assert not sky[SQUARE_PX - 1].any()
    assert not sky[:, -1].any()
    assert sky[SQUARE_PX].sum() == SQUARE_PX - 1


def test_some_values_of_a_narrow_mask_are_never_none():
    plane = np.arange(3000 * 3000, dtype=np.float32).reshape(3000, 3000)
    inside = np.zeros(plane.shape, dtype=bool)
    inside[1501, 1501] = True
    assert some(plane, inside).tolist() == [plane[1501, 1501]]
    assert some(plane).size <= 1_200_000


def test_means_are_drawn_straight_between_their_middles():
    small = np.array([[0.0, 4.0, 8.0]], dtype=np.float32)
    found = enlarged(small, 4, (3, 11))
    assert found[2].tolist() == [0, 0, 0.5, 1.5, 2.5, 3.5, 4.5, 5.5, 6.5, 7.5, 8.0]


@pytest.mark.parametrize("space", ["sRGB", "P3-D65", "ROMM RGB", "BT.2020"])
@pytest.mark.parametrize("ceiling", [255, 65535])
def test_light_looked_up_is_the_librarys(space, ceiling):
    counts = np.random.default_rng(6).integers(0, ceiling + 1, (31, 17, 3)).astype(np.uint16)
    profile = profile_of(space)
    truth = to_light(counts.astype(np.float32) / np.float32(ceiling), profile)
    assert light_of_counts(counts, ceiling, profile) == pytest.approx(truth, abs=5e-6)


def test_a_profile_that_is_no_sum_goes_through_the_library(monkeypatch):
    counts = np.random.default_rng(6).integers(0, 256, (5, 7, 3)).astype(np.uint16)
    truth = light_of_counts(counts, 255, profile_of("sRGB"))
    monkeypatch.setattr(profiles, "_tables", lambda profile, ceiling: None)
    assert light_of_counts(counts, 255, profile_of("sRGB")) == pytest.approx(truth, abs=5e-6)
