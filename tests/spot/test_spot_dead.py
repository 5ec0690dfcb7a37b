"""Dead pixels inside a spot are flagged and left out; holes and edges that a lens makes are not."""

import numpy as np
import pytest
from conftest_spot import Star
from scipy.ndimage import gaussian_filter

from nightglass.frame.record import Frame
from nightglass.optics.extent import extent
from nightglass.spot.blocks import dark_blocks
from nightglass.spot.measure import measure_frame

DEAD = "dead pixels inside"
FINE = 8


def green(measured):
    return next(s for s in measured.spots if s.colour in ("green", "grey"))


def block(row, column, value):
    """Spoil 4 x 4 samples: at black as a pixel without light reads, or at nothing at all."""

    def spoil(counts):
        counts[row : row + 4, column : column + 4] = value

    return spoil


@pytest.mark.parametrize("mosaic", ["bayer", "6x6", "grey"])
@pytest.mark.parametrize("value", [512, 0])
@pytest.mark.parametrize("place", [(87, 120), (85, 122), (90, 117)])
def test_a_dead_block_is_flagged_and_left_out(make_frame, mosaic, value, place):
    """16 of some 100 lit samples; as light they would move the length by a twelfth."""
    star = Star(sigma_x=3.4, sigma_y=2.8)
    whole = green(measure_frame(make_frame(star, mosaic=mosaic)))
    spoilt = green(measure_frame(make_frame(star, mosaic=mosaic, spoil=block(*place, value))))
    assert DEAD in spoilt.flags
    assert DEAD not in whole.flags
    length, width = star.lengths
    assert spoilt.length_px == pytest.approx(length, rel=0.05)
    assert spoilt.width_px == pytest.approx(width, rel=0.06)
    assert abs(spoilt.length_px - length) < 2 * spoilt.length_px_err + 0.15
    assert spoilt.length_px_err > whole.length_px_err
    assert (spoilt.x_px, spoilt.y_px) == pytest.approx((star.x, star.y), abs=0.3)


def test_where_most_of_the_light_is_missing_there_are_no_sizes(make_frame):
    star = Star(sigma_x=2.0, sigma_y=2.0)
    spot = green(measure_frame(make_frame(star, spoil=block(87, 120, 512))))
    assert DEAD in spot.flags
    assert spot.length_px is None


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("mosaic", ["bayer", "6x6"])
def test_a_hole_of_the_lens_is_its_own(make_frame, seed, mosaic):
    """A ring of light with a dark middle of 4 to 6 px, edges blurred by 0.4 px and the pixel."""
    rng = np.random.default_rng(seed)
    y, x = np.mgrid[: 40 * 8, : 40 * 8] / 8 - 0.4375
    r = np.hypot(x - 20 - rng.uniform(-0.5, 0.5), y - 20 - rng.uniform(-0.5, 0.5))
    ring = gaussian_filter(7000.0 * ((r < 8) & (r > rng.uniform(2.0, 3.0))), 0.4 * 8)
    light = ring.reshape(40, 8, 40, 8).mean(axis=(1, 3))

    def add(counts):
        counts[70:110, 100:140] += light

    spot = green(measure_frame(make_frame(mosaic=mosaic, seed=seed, spoil=add)))
    assert spot.length_px is not None
    assert DEAD not in spot.flags


def test_lateral_colour_is_no_dead_pixel(make_frame):
    star = Star(sigma_x=1.6, sigma_y=1.6, offsets=((2.0, 0.0), (0.0, 0.0), (-2.0, 0.5)))
    assert DEAD not in green(measure_frame(make_frame(star))).flags


def test_dead_samples_of_one_plane_of_linear_raw_are_found():
    y, x = np.mgrid[:120, :150]
    light = 9000 * np.exp(-((x - 70.3) ** 2 + (y - 60.6) ** 2) / (2 * 3.2**2))
    samples = np.random.default_rng(3).normal(600, 5, (120, 150, 3)) + light[..., None]
    samples[59:63, 69:73, 1] = 600
    frame = Frame(
        samples=samples.round().astype(np.uint16),
        pattern=np.zeros((1, 1), dtype=np.uint8),
        black=np.full((1, 3), 512.0),
        clipping=np.full((1, 3), 16383.0),
        kind="demosaiced",
    )
    red, spot, _ = measure_frame(frame).spots
    assert DEAD in spot.flags
    assert DEAD not in red.flags
    assert spot.length_px == pytest.approx(red.length_px, rel=0.05)


def sharp(kind):
    """Light of a sharp-edged spot of 30 px on 48 x 56 pixels, off the grid, and its true length."""
    rows, columns = 48, 56
    y, x = (np.indices((rows * FINE, columns * FINE)) + 0.5) / FINE - 0.5
    u, v = x - 27.29, y - 23.62
    far = np.hypot(u, v)
    light = {
        "disc": far < 15,
        "ring": (far < 15) & (far > 3.3),
        "cat's eye": (far < 15) & (np.hypot(u - 8.2, v - 4.1) < 16),
        "line": (np.abs(u + 0.4 * v) < 15) & (np.abs(v - 0.4 * u) < 2.3),
    }[kind]
    fine = gaussian_filter(9000.0 * light, 0.35 * FINE)
    return fine.reshape(rows, FINE, columns, FINE).mean(axis=(1, 3))


def added(light, *blocks):
    """Add the light to a frame, its corner at row 70, column 90; then plant (place, value)."""

    def spoil(counts):
        counts[70:118, 90:146] += light
        for (row, column, height, width), value in blocks:
            counts[70 + row : 70 + row + height, 90 + column : 90 + column + width] = value

    return spoil


@pytest.mark.parametrize("mosaic", ["bayer", "6x6"])
@pytest.mark.parametrize("kind", ["disc", "ring", "cat's eye", "line"])
def test_sharp_edges_are_the_lens_s_own(make_frame, kind, mosaic):
    spot = green(measure_frame(make_frame(mosaic=mosaic, spoil=added(sharp(kind)))))
    assert spot.length_px is not None
    assert DEAD not in spot.flags


@pytest.mark.parametrize("mosaic", ["bayer", "6x6"])
def test_a_dead_block_at_the_edge_of_a_disc_is_left_out(make_frame, mosaic):
    """Dark sky begins behind two of its sides: no light bridges the gap."""
    light = sharp("disc")
    whole = green(measure_frame(make_frame(mosaic=mosaic, spoil=added(light))))
    block = ((32, 35, 4, 4), 512)
    spoilt = green(measure_frame(make_frame(mosaic=mosaic, spoil=added(light, block))))
    assert DEAD in spoilt.flags
    truth = extent(np.pad(light, 30))
    assert abs(spoilt.length_px - truth.length_px) < 2 * spoilt.length_px_err
    assert abs(spoilt.width_px - truth.width_px) < 2 * spoilt.width_px_err
    assert spoilt.length_px_err > whole.length_px_err


@pytest.mark.parametrize("height", [2, 3, 4])
@pytest.mark.parametrize("width", [2, 3, 4])
def test_a_planted_block_is_found_to_the_sample(height, width):
    """Every place of an even field of 100 counts, noise 1: nothing more and nothing less."""
    rng = np.random.default_rng(10 * height + width)
    inside = np.zeros((40, 46), dtype=bool)
    inside[10:30, 10:36] = True
    noise = np.ones(inside.shape)
    for row in (10, 17, 25):
        for column in (10, 22, 31):
            light = rng.normal(100.0, 1.0, inside.shape)
            planted = np.zeros_like(inside)
            planted[row : row + height, column : column + width] = True
            dark = np.where(planted, 0.0, light)
            np.testing.assert_array_equal(dark_blocks(dark, noise, inside), planted)
            assert not dark_blocks(light, noise, inside).any()
