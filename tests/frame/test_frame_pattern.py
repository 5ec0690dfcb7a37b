"""Colours and black levels by place, for every phase and origin (limits R01, R02, R03, R04)."""

from __future__ import annotations

import itertools
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from nightglass.frame.open import open_frame
from nightglass.frame.window import colour_map, place_map, window

ORIGINS = [(0, 0), (1, 1), (1, 0), (3, 4), (12, 6), (6, 13), (13, 13), (7, 2)]
CELL = np.array([[1000.0, 1010.0], [1020.0, 1040.0]])
SIX_BLACK = np.array([1022.0, 1032.0, 1042.0])


def tiled(tile, origin, shape):
    """The tile over a whole raw area, starting at the visible corner."""
    rows = (np.arange(shape[0]) - origin[0]) % tile.shape[0]
    columns = (np.arange(shape[1]) - origin[1]) % tile.shape[1]
    return tile[rows[:, None], columns]


def check_pure(frame, step=100, base=1000):
    colours = colour_map(frame, 0, 0, frame.height_px, frame.width_px)
    assert set(np.unique(frame.pattern)) == {0, 1, 2}
    np.testing.assert_array_equal(frame.samples, base + step * colours.astype(int))


@pytest.mark.parametrize("mosaic", ["bayer", "6x6"])
@pytest.mark.parametrize("origin", ORIGINS)
def test_colour_planes_are_pure_for_every_active_area_origin(make_dng, tiles, mosaic, origin):
    shape = (90, 114)
    codes = tiled(tiles[mosaic], origin, shape).astype(np.uint16)
    path = make_dng(1000 + 100 * codes, pattern=tiles[mosaic], active_area=(*origin, *shape))
    check_pure(open_frame(path))


@settings(
    max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    phase=st.tuples(st.integers(0, 5), st.integers(0, 5)),
    origin=st.tuples(st.integers(0, 13), st.integers(0, 13)),
    mosaic=st.sampled_from(["bayer", "6x6"]),
)
def test_colour_and_black_hold_for_any_phase_and_origin(make_dng, tiles, phase, origin, mosaic):
    """Flat light over a black that differs by place: every window is flat, whatever the phase."""
    tile = np.roll(tiles[mosaic], phase, axis=(0, 1))
    black = 500 + 7 * np.arange(tile.size).reshape(tile.shape)
    shape = (60, 72)
    light = 300 * (1 + tiled(tile, origin, shape).astype(int))
    samples = (tiled(black, origin, shape) + light).astype(np.uint16)
    frame = open_frame(make_dng(samples, pattern=tile, black=black, active_area=(*origin, *shape)))
    colours = colour_map(frame, 3, 5, 31, 37)
    np.testing.assert_allclose(window(frame, 3, 5, 31, 37), 300 * (1.0 + colours))


@pytest.mark.parametrize("mosaic", ["bayer", "6x6"])
def test_visible_area_leaves_the_margin_out(make_dng, tiles, mosaic):
    """Margins of 50,000 counts never reach the samples; odd Bayer margins are rounded up."""
    samples = np.full((80, 100), 50000, dtype=np.uint16)
    samples[9:, 13:] = 1200
    path = make_dng(samples, pattern=tiles[mosaic], active_area=(9, 13, 80, 100), white_level=65535)
    frame = open_frame(path)
    assert frame.samples.max() == 1200
    assert frame.samples.shape == ((70, 86) if mosaic == "bayer" else (71, 87))


@pytest.mark.parametrize("order", ["RGGB", "GRBG", "BGGR", "GBRG"])
def test_bayer_black_is_by_place_in_the_cell(make_dng, order):
    """1000/1010/1020/1040 in cell order; LibRaw's list by colour code swaps two of them."""
    tile = np.array(["RGB".index(letter) for letter in order], dtype=np.uint8).reshape(2, 2)
    samples = tiled(CELL, (0, 0), (60, 84)).astype(np.uint16)
    frame = open_frame(make_dng(samples, pattern=tile, black=CELL))
    np.testing.assert_array_equal(frame.pattern, tile)
    np.testing.assert_array_equal(frame.black, CELL)
    assert (colour_map(frame, 0, 0, 60, 84) == 1).mean() == 0.5
    assert not window(frame, 0, 0, 60, 84).any()


@pytest.mark.parametrize("origin", [(0, 0), (5, 8), (13, 7)])
def test_six_by_six_black_table_is_read_from_the_tag(make_dng, tiles, origin):
    """R 1022, G 1032, B 1042: LibRaw hands out 1022 four times."""
    black = SIX_BLACK[tiles["6x6"]]
    shape = (80, 96)
    samples = tiled(black, origin, shape).astype(np.uint16)
    frame = open_frame(
        make_dng(samples, pattern=tiles["6x6"], black=black, active_area=(*origin, *shape))
    )
    np.testing.assert_array_equal(frame.black, SIX_BLACK[frame.pattern])
    assert not window(frame, 0, 0, frame.height_px, frame.width_px).any()


def test_black_that_repeats_at_another_pace_than_the_mosaic(make_dng, tiles):
    """A 2x2 black under a 6x6 mosaic, and a fractional black."""
    samples = tiled(CELL, (0, 0), (60, 84)).astype(np.uint16)
    frame = open_frame(make_dng(samples, pattern=tiles["6x6"], black=CELL))
    assert not window(frame, 0, 0, 60, 84).any()
    flat = open_frame(make_dng(samples, name="flat.dng", black=511.25))
    np.testing.assert_allclose(flat.black, 511.25)


class FakeRaw:
    """What a maker's 6x6 raw looks like through LibRaw: one black for all, a masked border."""

    color_desc = b"RGBG"
    white_level = 16383
    camera_white_level_per_channel = None

    def __init__(self, image, top, left, black):
        self.raw_image = image
        self.black_level_per_channel = [black] * 4
        self.sizes = type(
            "Sizes",
            (),
            {
                "top_margin": top,
                "left_margin": left,
                "height": image.shape[0] - top,
                "width": image.shape[1] - left,
            },
        )

    def raw_color(self, row, column):
        return 0


def test_makers_six_by_six_black_comes_from_the_masked_border(tiles):
    from nightglass.frame.black import mosaic_black

    tile = tiles["6x6"]
    image = tiled(SIX_BLACK[tile], (2, 24), (200, 200)).astype(np.uint16)
    image[2:, 24:] += 4000
    black, clipping, notes = mosaic_black(FakeRaw(image, 2, 24, 1022), tile, None)
    np.testing.assert_array_equal(black, SIX_BLACK[tile])
    assert notes == ("black measured from the masked border",)
    assert clipping.min() == 16383


@pytest.mark.parametrize(("left", "lit"), [(4, 0), (24, 6000)])
def test_makers_six_by_six_black_without_a_dark_border_says_so(tiles, left, lit):
    from nightglass.frame.black import mosaic_black

    image = np.full((200, 200), 1022 + lit, dtype=np.uint16)
    black, _, notes = mosaic_black(FakeRaw(image, 2, left, 1022), tiles["6x6"], None)
    assert np.all(black == 1022)
    assert notes == ("black is one number for all colours in this file",)


def test_makers_bayer_levels_are_by_colour_code(tiles):
    """Makers' files: LibRaw's lists go by colour code, and the second green is code 3."""
    from nightglass.frame.black import mosaic_black

    raw = FakeRaw(np.zeros((60, 84), dtype=np.uint16), 0, 0, 0)
    raw.black_level_per_channel = [100, 110, 120, 130]
    raw.camera_white_level_per_channel = [15000, 15100, 15200, 17000]
    raw.raw_color = lambda row, column: [[0, 1], [3, 2]][row % 2][column % 2]
    black, clipping, notes = mosaic_black(raw, tiles["bayer"], None)
    assert black.tolist() == [[100, 110], [130, 120]]
    assert clipping.tolist() == [[15000, 15100], [16383, 15200]]
    assert notes == ()


def test_place_map_repeats_from_the_visible_corner(tiles):
    tile = tiles["6x6"]
    whole = place_map(tile, 0, 0, 30, 30)
    for top, left in itertools.product((0, 5, 7), (0, 4, 11)):
        np.testing.assert_array_equal(
            place_map(tile, top, left, 13, 17), whole[top : top + 13, left : left + 17]
        )


def test_orientation_never_turns_the_mosaic(make_dng):
    """Orientation 1, 3, 6, 8 with one bright spot: the place in the raw area stays (limit R27)."""
    samples = np.full((60, 84), 1000, dtype=np.uint16)
    samples[11, 23] = 9000
    for orientation in (1, 3, 6, 8):
        path: Path = make_dng(samples, extratags=[(274, "H", 1, orientation)])
        frame = open_frame(path)
        assert frame.samples.shape == (60, 84)
        assert np.unravel_index(frame.samples.argmax(), (60, 84)) == (11, 23)
