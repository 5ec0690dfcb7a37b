"""Finding stars: planted truth in both mosaics, hot pixels, empty and full frames."""

from __future__ import annotations

import numpy as np
import pytest

from nightglass.frame.record import Frame
from nightglass.sky.stars.background import level_at, sky_level
from nightglass.sky.stars.find import find_stars

RGGB = np.array([[0, 1], [1, 2]], dtype=np.uint8)
SIX = np.array(
    [
        [1, 0, 1, 1, 2, 1],
        [2, 1, 2, 0, 1, 0],
        [1, 0, 1, 1, 2, 1],
        [1, 2, 1, 1, 0, 1],
        [0, 1, 0, 2, 1, 2],
        [1, 2, 1, 1, 0, 1],
    ],
    dtype=np.uint8,
)


def planted(pattern, places, flux, sigma=1.3, sky=(80.0, 150.0, 100.0), size=(300, 452), seed=2):
    """Make a frame of Gaussian stars of one colour temperature on a coloured sky."""
    rng = np.random.default_rng(seed)
    rows, columns = size
    y, x = np.mgrid[0:rows, 0:columns]
    colour = pattern[y % pattern.shape[0], x % pattern.shape[1]]
    light = np.zeros(size)
    for (px, py), counts in zip(places, flux, strict=True):
        near = np.exp(-0.5 * ((x - px) ** 2 + (y - py) ** 2) / sigma**2)
        light += counts * near / (2 * np.pi * sigma**2)
    light *= np.array([0.6, 1.0, 0.7])[colour]
    light += np.array(sky)[colour]
    samples = rng.normal(light, np.sqrt(light + 9)) + 1000
    shape = pattern.shape
    return Frame(
        samples=np.clip(np.rint(samples), 0, 15000).astype(np.uint16),
        pattern=pattern,
        black=np.full(shape, 1000.0),
        clipping=np.full(shape, 15000.0),
        kind="mosaic",
    )


@pytest.mark.parametrize("pattern", [RGGB, SIX], ids=["bayer", "6x6"])
def test_planted_stars_come_back_in_place_and_size(pattern):
    rng = np.random.default_rng(7)
    places = [(40.0 + 37 * k + rng.uniform(), 30 + 90 * (k % 3) + rng.uniform()) for k in range(10)]
    frame = planted(pattern, places, [20000.0] * 10)
    stars = find_stars(frame).stars
    assert len(stars) == 10
    for x, y in places:
        k = int(np.argmin(np.hypot(stars.x_px - x, stars.y_px - y)))
        assert np.hypot(stars.x_px[k] - x, stars.y_px[k] - y) < 0.15
        # The central 90 % of a Gaussian is 3.290 deviations; the pixel adds its own width.
        assert stars.length_px[k] == pytest.approx(3.29 * 1.33, rel=0.1)
        assert stars.flux_counts[k] == pytest.approx(20000, rel=0.06)


def test_hot_pixels_that_outnumber_stars_are_left_out():
    places = [(100.3, 80.7), (250.6, 160.2), (400.1, 220.9)]
    frame = planted(RGGB, places, [6000.0] * 3)
    rng = np.random.default_rng(3)
    samples = frame.samples.copy()
    hot_y, hot_x = rng.integers(5, 295, 200), rng.integers(5, 447, 200)
    samples[hot_y, hot_x] += rng.integers(400, 8000, 200).astype(np.uint16)
    hot = Frame(samples, frame.pattern, frame.black, frame.clipping, "mosaic")
    found = find_stars(hot)
    assert found.hot_pixels == pytest.approx(200, abs=8)
    for x, y in places:
        assert np.hypot(found.stars.x_px - x, found.stars.y_px - y).min() < 0.4
    assert len(found.stars) <= 3 + 4


def test_faint_sharp_stars_are_no_hot_pixels():
    rng = np.random.default_rng(8)
    grid = [(20.0 + 24 * k, 20.0 + 24 * j) for j in range(11) for k in range(17)]
    places = [(x + rng.uniform(), y + rng.uniform()) for x, y in grid]
    # Noise alike in all colours, as the readout makes it: red and blue show half of the star.
    frame = planted(RGGB, places, [300.0] * len(places), sigma=0.6, sky=(150.0, 150.0, 150.0))
    found = find_stars(frame)
    assert found.hot_pixels <= 0.05 * len(places)
    assert len(found.stars) >= 0.9 * len(places)


def test_noise_alone_holds_next_to_no_star_and_the_frame_stays_as_it_was():
    frame = planted(RGGB, [], [], size=(700, 900))
    before = frame.samples.copy()
    assert len(find_stars(frame).stars) <= 1
    assert np.array_equal(before, frame.samples)


def test_the_sky_level_is_known_per_colour_under_stars():
    rng = np.random.default_rng(1)
    places = list(zip(rng.uniform(5, 445, 60), rng.uniform(5, 295, 60), strict=True))
    frame = planted(RGGB, places, [3000.0] * 60)
    level = level_at(sky_level(frame), np.array([220.0]), np.array([150.0]))[0]
    assert level == pytest.approx([80.0, 150.0, 100.0], abs=2.5)


def test_completeness_at_snr_10_and_clipped_stars_are_marked():
    rng = np.random.default_rng(4)
    places = [(20 + 21.3 * (k % 20), 20 + 21.7 * (k // 20)) for k in range(240)]
    places = [(x + rng.uniform(), y + rng.uniform()) for x, y in places]
    frame = planted(RGGB, places, [550.0] * 239 + [500000.0])
    stars = find_stars(frame).stars
    distance = [np.hypot(stars.x_px - x, stars.y_px - y).min() for x, y in places[:-1]]
    assert np.mean(np.array(distance) < 2.0) > 0.97
    assert stars.clipped[0]
    assert not stars.clipped[1:].any()


def test_three_planes_and_silly_thresholds_are_refused():
    frame = Frame(
        np.zeros((50, 50, 3), np.uint16),
        np.array([[0]], np.uint8),
        np.zeros((1, 3)),
        np.full((1, 3), 255.0),
        "picture",
        file="a.jpg",
    )
    with pytest.raises(ValueError, match=r"a.jpg has three planes; stars are looked for in a"):
        find_stars(frame)
    with pytest.raises(ValueError, match=r"least_snr is 1; under 3 noise outnumbers stars"):
        find_stars(planted(RGGB, [], []), least_snr=1)
