"""Two frames against each other: noise and pattern come apart, whatever the light does."""

from __future__ import annotations

import numpy as np
import pytest
from sensor_frames import BAYER, GREY, SIX, chip, frame

from nightglass.scene.flats import DARK, Light, expose_flat
from nightglass.sensor.pairs import tile_pairs

BLACK = np.full(3, 512.0)


def pair(sensor, first, second, lit=True, seed=5):
    rng = np.random.default_rng(seed)
    a, b = (frame(sensor, expose_flat(sensor, one, 0.5, rng)) for one in (first, second))
    return tile_pairs(a, b, BLACK, lit)


def mean(values, free):
    good = np.isfinite(values)
    return np.average(values[good], weights=free[good])


@pytest.mark.parametrize(
    ("pattern", "colours"), [(BAYER, (0, 1, 2)), (SIX, (0, 1, 2)), (GREY, (1,))]
)
def test_variance_of_dark_pairs_is_that_of_the_read_noise(pattern, colours):
    sensor = chip(1.0, 4.0, pattern=pattern, width_px=480, height_px=288)
    found = pair(sensor, DARK, DARK, lit=False)
    for k in colours:
        n = np.nansum(found.samples[:, k])
        expected = 16 + 1 / 12
        off = (mean(found.variance[:, k], found.samples[:, k]) - expected) / expected
        assert abs(off) < 4 * np.sqrt(2 / n), k
        assert n > 0.9 * sensor.width_px * sensor.height_px * np.mean(pattern == k) - 96 * 48


def test_shading_flicker_and_unlike_pixels_do_not_enter_the_noise():
    sensor = chip(2.0, 3.0, width_px=960, height_px=480, response_pattern=0.01, hot_share=2e-4)
    level = 5000.0
    dim = Light(level, falloff=0.7, flicker=0.05, flicker_rows=180, phase=0.3)
    other = Light(1.08 * level, falloff=0.7, flicker=0.05, flicker_rows=180, phase=2.6)
    found = pair(sensor, dim, other)
    # Poisson: K x level (K counts per electron), read noise and rounding added.
    for k in range(3):
        expected = found.level[:, k] / 2.0 + 9 / 4 + 1 / 12
        ratio = mean(found.variance[:, k] / expected, found.samples[:, k])
        assert ratio == pytest.approx(1, abs=4 * np.sqrt(2 / np.nansum(found.samples[:, k])))
    shared = np.sqrt(np.nanmean(found.pattern[:, 1] / found.first[:, 1] ** 2))
    assert shared == pytest.approx(0.01, rel=0.03)


def test_half_the_variance_of_the_difference_as_the_standard_has_it():
    # EMVA 1288 Release 3.1, clause 6.6: mean((A - B)^2) / 2 - (mean A - mean B)^2 / 2.
    sensor = chip(1.0, 6.0)
    rng = np.random.default_rng(2)
    a, b = (expose_flat(sensor, DARK, 0.0, rng) for _ in range(2))
    found = tile_pairs(frame(sensor, a), frame(sensor, b), BLACK, lit=False)
    d = (a.astype(float) - b)[0::2, 0::2]
    by_the_standard = np.mean(d**2) / 2 - np.mean(d) ** 2 / 2
    ours = mean(found.variance[:, 0], found.samples[:, 0])
    # Rows are centred here, which leaves out nothing where rows do not jump.
    assert ours == pytest.approx(by_the_standard, rel=0.02)


def test_white_noise_has_no_neighbours_and_smoothed_noise_has():
    sensor = chip(1.0, 20.0, width_px=480)
    rng = np.random.default_rng(4)
    sharp = [expose_flat(sensor, DARK, 0.0, rng) for _ in range(2)]
    found = tile_pairs(*(frame(sensor, c) for c in sharp), BLACK, lit=False)
    assert abs(np.nanmean(found.across)) < 0.01
    assert abs(np.nanmean(found.down)) < 0.01
    soft = []
    for counts in sharp:
        smooth = counts.astype(float)
        smooth[:, 2:-2] = 0.1 * smooth[:, :-4] + 0.8 * smooth[:, 2:-2] + 0.1 * smooth[:, 4:]
        soft.append(np.rint(smooth).astype(np.uint16))
    found = tile_pairs(*(frame(sensor, c) for c in soft), BLACK, lit=False)
    # Kernel (0.1, 0.8, 0.1): neighbours share 2 x 0.08 of 0.66.
    assert np.nanmean(found.across) == pytest.approx(0.16 / 0.66, abs=0.02)


def test_clipped_tiles_tell_nothing():
    sensor = chip(1.0, 3.0)
    found = pair(sensor, Light(0.995 * sensor.full_scale_e), Light(0.995 * sensor.full_scale_e))
    assert np.isnan(found.variance[:, 1]).all()
    assert np.isfinite(found.variance[:, 0]).all()


def test_frames_that_make_no_pair_are_refused():
    sensor = chip()
    a = frame(sensor, np.zeros((192, 288), np.uint16), "one.dng")
    b = frame(sensor, np.zeros((192, 192), np.uint16), "two.dng")
    with pytest.raises(ValueError, match=r"one\.dng and two\.dng differ in size or mosaic"):
        tile_pairs(a, b, BLACK, True)
    small = frame(sensor, np.zeros((40, 288), np.uint16), "small.dng")
    with pytest.raises(ValueError, match=r"small\.dng: 288 x 40 px; it takes 96 x 48 at least"):
        tile_pairs(small, small, BLACK, True)
