"""The mean spot: centred, normalised, neither widened nor turned."""

import numpy as np
import pytest
from scipy.special import ndtr

from nightglass.bench.combined.stamp import mean_stamp
from nightglass.optics.extent import extent
from nightglass.spot.record import SpotImage


def gaussian(x, y, sx=2.1, sy=1.3, shape=(41, 37), flux=5000.0):
    """A Gaussian with its centre at raw (x, y), in an image whose corner is raw (100, 200)."""
    rows, columns = np.indices(shape, dtype=float)
    light = np.exp(-((columns + 100 - x) ** 2) / (2 * sx**2) - (rows + 200 - y) ** 2 / (2 * sy**2))
    return SpotImage((flux * light / light.sum()).astype(np.float32), 100, 200)


PLACES = [(118.0, 220.0), (118.37, 219.81), (117.6, 220.45), (118.5, 220.5)]


def test_mean_is_centred_with_sum_one():
    images = [gaussian(x, y, flux=1000.0 * (k + 1)) for k, (x, y) in enumerate(PLACES)]
    stamp = mean_stamp(images, PLACES, [14.0] * 4)
    assert stamp.dtype == np.float32
    assert stamp.shape == (33, 33)
    assert stamp.sum() == pytest.approx(1.0, abs=1e-5)
    rows, columns = np.indices(stamp.shape)
    assert (stamp * columns).sum() == pytest.approx(16, abs=0.01)
    assert (stamp * rows).sum() == pytest.approx(16, abs=0.01)


def test_mean_has_the_size_of_one_spot():
    images = [gaussian(x, y) for x, y in PLACES]
    found = extent(mean_stamp(images, PLACES, [14.0] * 4))
    one = extent(gaussian(118, 220).light)
    assert found.length_px == pytest.approx(one.length_px, abs=0.03)
    assert found.width_px == pytest.approx(one.width_px, abs=0.03)
    # A Gaussian's central 90 % span 3.290 standard deviations (normal distribution tables); each
    # sample is spread over its own pixel, 1/12 px^2 more.
    assert found.length_px == pytest.approx(3.290 * np.sqrt(2.1**2 + 1 / 12), rel=0.02)
    assert min(found.angle_degrees, 180 - found.angle_degrees) < 0.5


def test_light_outside_the_aperture_is_left_out():
    image = gaussian(118, 220)
    image.light[0, 0] = 1e6
    stamp = mean_stamp([image], [(118, 220)], [10.0])
    assert stamp[0, 0] == pytest.approx(0, abs=1e-12)
    assert stamp.shape == (25, 25)


def test_inputs_stay_unchanged_and_nothing_gives_none():
    image = gaussian(118.3, 220.2)
    before = image.light.copy()
    mean_stamp([image], [(118.3, 220.2)], [10.0])
    np.testing.assert_array_equal(image.light, before)
    assert mean_stamp([], [], []) is None
    assert mean_stamp([SpotImage(np.zeros((5, 5), np.float32), 0, 0)], [(2, 2)], [4.0]) is None


def pixel_blurred(x, y, sigma, half=12):
    """A Gaussian integrated over each pixel, centre at (x, y), corner at (-half, -half)."""
    edges = np.arange(-half, half + 2) - 0.5
    steps = [np.diff(ndtr((edges - centre) / sigma)) for centre in (x, y)]
    return SpotImage(np.outer(steps[1], steps[0]).astype(np.float32), -half, -half)


@pytest.mark.parametrize("sigma", [0.6, 0.87, 1.2, 3.0])
@pytest.mark.parametrize("place", [(0.5, 0.5), (0.5, -0.5), (0.3, -0.2), (0.45, 0.0), (0.0, 0.0)])
def test_moving_by_part_of_a_pixel_does_not_ring(sigma, place):
    stamp = mean_stamp([pixel_blurred(*place, sigma)], [place], [10.0])
    assert stamp.min() > -0.02 * stamp.max()


@pytest.mark.parametrize("sigma", [0.87, 1.2, 3.0])  # 3 px, where lengths begin, and longer
@pytest.mark.parametrize("place", [(0.5, 0.5), (0.3, -0.2), (0.45, 0.0)])
def test_moving_by_part_of_a_pixel_keeps_the_length(sigma, place):
    stamp = mean_stamp([pixel_blurred(*place, sigma)], [place], [11.0])
    still = mean_stamp([pixel_blurred(0.0, 0.0, sigma)], [(0.0, 0.0)], [11.0])
    assert extent(stamp).length_px == pytest.approx(extent(still).length_px, rel=0.01)
