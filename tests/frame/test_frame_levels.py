"""Clipping levels and linear windows (limits R14, R31)."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from nightglass.frame.levels import (
    pooled_clipping,
    top_samples,
    with_clipping,
)
from nightglass.frame.open import open_frame
from nightglass.frame.record import Frame
from nightglass.frame.window import colour_map, window

BLACK = 512.0


def frame_of(samples, pattern, white=16383.0):
    shape = pattern.shape
    return Frame(
        samples=samples,
        pattern=pattern,
        black=np.full(shape, BLACK),
        clipping=np.full(shape, white),
        kind="mosaic",
    )


def clip_block(samples, level, size=24):
    clipped = samples.copy()
    clipped[40 : 40 + size, 60 : 60 + size] = level
    return clipped


def test_plateau_below_the_nominal_white_level_is_the_clipping_level(make_dng, sky):
    """A plateau at 13584 where the file says 16383: the case of R14."""
    frame = open_frame(make_dng(clip_block(sky, 13584)))
    np.testing.assert_array_equal(frame.clipping, 13584)
    assert frame.clipping_from == "data"


def test_plateau_above_the_white_level_gives_the_white_level(make_dng, sky):
    """min(pile-up, WhiteLevel): 17220 seen where the file says 16372."""
    frame = open_frame(make_dng(clip_block(sky, 17220), white_level=16372))
    np.testing.assert_array_equal(frame.clipping, 16372)
    assert frame.clipping_from == "data"


def test_frame_without_clipped_samples_takes_the_files_level(make_dng, sky):
    samples = sky.copy()
    samples[70:76, 90:96] = np.arange(36).reshape(6, 6) * 100 + 9000
    frame = open_frame(make_dng(samples))
    np.testing.assert_array_equal(frame.clipping, 16383)
    assert frame.clipping_from == "file"


@pytest.mark.parametrize(("count", "source"), [(49, "file"), (50, "data")])
def test_fifty_samples_make_a_pile_up(tiles, sky, count, source):
    samples = sky.copy()
    reds = samples[::2, ::2]
    places = np.unravel_index(np.arange(count) * 7, reds.shape)
    reds[places] = 13000
    clipping = pooled_clipping([top_samples(frame_of(samples, tiles["bayer"]))])
    assert clipping.clipping_from == source
    assert clipping.levels[0] == (13000 if source == "data" else 16383)
    assert clipping.levels[1:] == (16383, 16383)


def test_colours_clip_at_their_own_levels(tiles, sky):
    for mosaic in ("bayer", "6x6"):
        pattern = tiles[mosaic]
        rows, columns = np.mgrid[:300, :420]
        codes = pattern[rows % len(pattern), columns % len(pattern)]
        samples = clip_block(sky, 0, 48)
        samples = np.where(samples == 0, np.array([9000, 13584, 15000])[codes], samples)
        clipping = pooled_clipping([top_samples(frame_of(samples.astype(np.uint16), pattern))])
        assert clipping.levels == (9000, 13584, 15000)


def test_pooling_finds_a_ceiling_that_no_single_frame_shows(tiles, sky):
    frames = []
    for k in range(6):
        samples = sky.copy()
        samples[20 + 2 * k, 0:40:2] = 12000
        frames.append(frame_of(samples, tiles["bayer"]))
    tops = [top_samples(frame) for frame in frames]
    assert pooled_clipping(tops[:2]).clipping_from == "file"
    pooled = pooled_clipping(tops)
    assert pooled.clipping_from == "data"
    assert pooled.levels == (12000, 16383, 16383)
    changed = with_clipping(frames[0], pooled)
    assert changed.clipping_from == "data"
    assert changed.clipping.tolist() == [[12000, 16383], [16383, 16383]]
    assert changed.samples is frames[0].samples


def test_pooling_ignores_lower_tops_of_dim_frames(tiles, sky):
    dim = clip_block(sky, 5000)
    dim_top = top_samples(frame_of(dim, tiles["bayer"]))
    bright_top = top_samples(frame_of(clip_block(sky, 13584), tiles["bayer"]))
    assert pooled_clipping([dim_top, bright_top]).levels == (13584, 13584, 13584)


def test_uneven_ceiling_is_taken_at_its_lower_edge(tiles, sky):
    """Columns that clip a few counts apart: 95 % of the pile count as clipped."""
    samples = sky.copy()
    samples[40:140, 60:160] = 13580 + np.arange(100) % 8
    level = pooled_clipping([top_samples(frame_of(samples, tiles["bayer"]))]).levels[1]
    assert 13580 <= level <= 13581


@pytest.mark.parametrize("level", [6000, 14000])
def test_bright_even_light_is_no_ceiling(tiles, level):
    """A lit wall of 2 Mpx with photon noise: its brightest samples thin out, nothing piles up."""
    noise = np.random.default_rng(5).normal(level, np.sqrt(level), (1200, 1700))
    frame = frame_of(noise.round().astype(np.uint16), tiles["bayer"])
    assert pooled_clipping([top_samples(frame)]).clipping_from == "file"


def test_even_disc_of_a_defocused_star_is_no_ceiling(tiles, sky):
    """A disc of 45 px at 60 % of full scale, gain 12 electrons per count: the least noise."""
    rows, columns = np.mgrid[:300, :420]
    inside = np.hypot(rows - 151.3, columns - 203.8) < 22.5
    light = 9500 + np.random.default_rng(6).normal(0, np.sqrt(9500 / 12), sky.shape)
    frame = frame_of(np.where(inside, light.round(), sky).astype(np.uint16), tiles["bayer"])
    assert pooled_clipping([top_samples(frame)]).clipping_from == "file"


def test_dark_frame_of_equal_samples_is_no_ceiling(tiles):
    samples = np.full((60, 84), 512, dtype=np.uint16)
    assert pooled_clipping([top_samples(frame_of(samples, tiles["bayer"]))]).clipping_from == "file"


def test_pooling_nothing_or_different_colours_is_refused(tiles, sky):
    with pytest.raises(ValueError, match="no frames to pool: give at least one"):
        pooled_clipping([])
    grey = frame_of(sky, np.ones((1, 1), dtype=np.uint8))
    tops = [top_samples(grey), top_samples(frame_of(sky, tiles["bayer"]))]
    with pytest.raises(ValueError, match="pool frames of one body and mode"):
        pooled_clipping(tops)


def test_noise_below_black_stays_negative(make_dng, tiles):
    """N(1024, 5) minus 1024 in unsigned numbers would give 65,512 (limit R31)."""
    samples = np.random.default_rng(3).normal(1024, 5, (90, 126)).round().astype(np.uint16)
    frame = open_frame(make_dng(samples, black=1024))
    light = window(frame, 0, 0, 90, 126)
    assert light.dtype == np.float32
    assert -50 < light.min() < 0 < light.max() < 50
    assert abs(light.mean()) < 0.5
    assert window(frame, 0, 0, 1, 1).shape == (1, 1)


def test_window_is_a_copy_and_leaves_the_frame_unchanged(tiles, sky):
    frame = frame_of(sky.copy(), tiles["6x6"])
    black = np.arange(36.0).reshape(6, 6)
    frame = replace(frame, black=black)
    light = window(frame, 7, 11, 40, 50)
    rows, columns = np.mgrid[7:47, 11:61]
    np.testing.assert_allclose(light, sky[7:47, 11:61] - black[rows % 6, columns % 6])
    light[:] = 0
    np.testing.assert_array_equal(frame.samples, sky)


@pytest.mark.parametrize(
    "where", [(-1, 0, 5, 5), (0, -1, 5, 5), (0, 0, 0, 5), (298, 0, 5, 5), (0, 418, 5, 5)]
)
def test_window_that_leaves_the_frame_is_refused(tiles, sky, where):
    frame = frame_of(sky, tiles["bayer"])
    text = r"leaves the frame of 300 x 420 px \(rows x columns\)"
    with pytest.raises(ValueError, match=text):
        window(frame, *where)
    with pytest.raises(ValueError, match=text):
        colour_map(frame, *where)


def test_three_planes_have_no_colour_map(sky):
    frame = replace(
        frame_of(np.dstack([sky] * 3), np.zeros((1, 1), dtype=np.uint8)),
        black=np.array([[500.0, 510.0, 520.0]]),
        clipping=np.full((1, 3), 16383.0),
        kind="demosaiced",
    )
    light = window(frame, 3, 4, 5, 6)
    np.testing.assert_allclose(light[..., 0] - light[..., 2], 20)
    with pytest.raises(ValueError, match="take plane k of window"):
        colour_map(frame, 0, 0, 5, 5)


def test_opened_frames_pool_by_what_they_kept(make_dng, sky):
    """The file's own level survives opening, so that one frame's pile-up binds no other."""
    tops = []
    for k in range(3):
        samples = sky.copy()
        samples[20 + 2 * k, 0:40:2] = 12000
        frame = open_frame(make_dng(samples, name=f"{k}.dng"))
        assert frame.clipping_from == "file"
        tops.append(top_samples(frame))
        assert tops[-1] is frame.top
    assert pooled_clipping(tops).levels == (12000, 16383, 16383)
    clipped = open_frame(make_dng(clip_block(sky, 13584)))
    assert clipped.top.file_clipping == (16383, 16383, 16383)
