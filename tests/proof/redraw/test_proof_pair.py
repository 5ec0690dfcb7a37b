"""One star as recorded beside the other spot drawn in its place."""

from __future__ import annotations

import numpy as np
import pytest

from nightglass.frame.record import Frame
from nightglass.proof.redraw.pair import Sized, star_pair
from nightglass.sky.stars.find import COLUMNS, FoundStars

PATTERN = np.array([[0, 1], [1, 2]], dtype=np.uint8)
BOX = (100, 220, 200, 360)
"""Top, bottom, left, right: not square, not at the frame's corner."""
PLACES = ((240.3, 150.8), (300.6, 160.2), (330.1, 180.4))


def square(sigma_px, light=60000.0) -> Frame:
    """Render Gaussians of equal light at the places, off the grid, on a level of 500 counts."""
    y, x = np.mgrid[BOX[0] : BOX[1], BOX[2] : BOX[3]]
    counts = np.full(x.shape, 500.0)
    for u, v in PLACES:
        spot = np.exp(-((x - u) ** 2 + (y - v) ** 2) / (2 * sigma_px**2))
        counts += light * spot / (2 * np.pi * sigma_px**2)
    counts += np.random.default_rng(2).normal(0, 4, x.shape)
    return Frame(
        samples=np.rint(counts).astype(np.uint16),
        pattern=PATTERN,
        black=np.full((2, 2), 64.0),
        clipping=np.full((2, 2), 65535.0),
        kind="mosaic",
        file="a",
    )


def stars(snr=(90.0, 80.0, 70.0)) -> FoundStars:
    values = {name: np.full(3, 6.0) for name in COLUMNS}
    values |= {"snr": np.array(snr), "x_px": np.array([p[0] for p in PLACES])}
    return FoundStars(**{**values, "y_px": np.array([p[1] for p in PLACES])})


def sized(*sizes) -> Sized:
    return Sized(np.array(sizes), np.array(sizes))


def test_the_crops_are_of_one_star_centred_and_keep_its_light():
    sizes = sized(6.6, 6.6, 9.0), sized(9.9, 9.9, 9.9)
    pair = star_pair((square(2.0), square(3.0)), BOX, stars(), sizes, 16)
    # The third star's size on the sky is not the usual one; the first is the brighter of the rest.
    assert (pair.x_px, pair.y_px) == pytest.approx(PLACES[0])
    assert pair.sky.shape == pair.drawn.shape == (33, 33)
    for crop, sigma in ((pair.sky, 2.0), (pair.drawn, 3.0)):
        y, x = np.mgrid[-16:17, -16:17]
        total = crop.sum()
        # Places are 0.3 px right of, 0.2 px above the star's pixel.
        assert (crop * x).sum() / total == pytest.approx(0.3, abs=0.15)
        assert (crop * y).sum() / total == pytest.approx(-0.2, abs=0.15)
        assert total == pytest.approx(60000, rel=0.05)
        peak = 60000 / (2 * np.pi * sigma**2)
        assert crop.max() == pytest.approx(peak, rel=0.06)
    # 0.8 of the longer size, 9.9 px, rounded up, and 2.
    assert pair.reach_px == 10


def test_a_crowded_star_is_left_for_a_single_one_and_no_room_gives_none():
    crowded = stars()
    crowded.x_px[1], crowded.y_px[1] = crowded.x_px[0] + 8, crowded.y_px[0]
    sizes = sized(6.0, 6.0, 6.0), sized(6.0, 6.0, 6.0)
    pair = star_pair((square(2.0), square(2.0)), BOX, crowded, sizes, 12)
    assert (pair.x_px, pair.y_px) == pytest.approx(PLACES[2])
    assert star_pair((square(2.0), square(2.0)), BOX, stars(), sizes, 70) is None
