"""Gain and read noise from one frame of the sky: planted ones, in poor and rich star fields."""

from __future__ import annotations

import numpy as np
import pytest

from nightglass.frame.record import Frame
from nightglass.scene.sky.starfield import Aberrations, Scene, lens_spots, render
from nightglass.show.sky.words.night import gain_reason_words
from nightglass.sky.astrometry.camera import look_at, plain_camera
from nightglass.sky.photometry.codes import GainReason
from nightglass.sky.photometry.gain import measure_gain
from nightglass.sky.stars.find import find_stars
from nightglass.sky.stars.photon_noise import photon_variance

CAMERA = plain_camera(1200, 810, 1150.0)
SPARSE, MILKY_WAY = (140.0, 30.0, 20.0), (300.0, 35.0, 0.0)


def measured(aim, gain, sky, read, glow, seed):
    lens = Aberrations(defocus_um=0.6, coma_um=0.3, astigmatism_um=0.3)
    scene = Scene(
        CAMERA,
        look_at(*aim),
        lens_spots(CAMERA, 6.0, 2.0, lens, grid=(1, 1), size_px=31),
        exposure_s=10.0,
        zero_counts_per_s=1.2e5,
        faintest_g=11.5,
        sky_counts=sky,
        glow=glow,
        gain_e_per_count=gain,
        read_noise_counts=read,
        hot_pixels=200,
        seed=seed,
    )
    frame, _ = render(scene)
    found = find_stars(frame)
    return found, measure_gain(frame, found, np.ones(found.sky.level.shape[:2], dtype=bool))


@pytest.mark.parametrize(
    ("aim", "gain", "sky", "read", "glow"),
    [
        (SPARSE, 0.5, (30.0, 60.0, 40.0), 3.0, 0.0),
        (SPARSE, 2.0, (60.0, 120.0, 80.0), 3.0, 0.8),
        (MILKY_WAY, 0.6, (30.0, 60.0, 40.0), 10.0, 0.4),
        (MILKY_WAY, 0.5, (60.0, 120.0, 80.0), 3.0, 0.8),
        (MILKY_WAY, 2.0, (500.0, 1000.0, 700.0), 3.0, 0.3),
    ],
)
def test_planted_gains_come_back_within_their_errors(aim, gain, sky, read, glow):
    _, told = measured(aim, gain, sky, read, glow, seed=round(10 * gain + sky[1]))
    assert told.reason is None
    assert abs(told.e_per_count - gain) < 2.5 * told.e_per_count_err
    assert told.e_per_count_err < 0.3 * gain
    assert abs(told.read_noise_counts - np.hypot(read, 0.29)) < 3 * told.read_noise_err


def test_faint_stars_are_not_taken_for_photons():
    found, told = measured(MILKY_WAY, 0.6, (30.0, 60.0, 40.0), 10.0, 0.4, seed=3)
    # All variance of the tiles taken for photons: what the stars make of it.
    assert 1 / photon_variance(found.sky) < 0.8 * 0.6
    assert told.e_per_count == pytest.approx(0.6, rel=0.2)


def test_where_readout_hides_the_light_no_gain_is_told():
    _, told = measured(SPARSE, 6.0, (15.0, 30.0, 20.0), 12.0, 0.0, seed=5)
    assert told.e_per_count is None
    assert told.read_noise_counts is None
    assert told.reason is GainReason.NOT_TOLD_APART
    percent = 100 * min(told.share_err, 9.99)
    words = gain_reason_words(told.reason, told.share_err)
    assert f"(the gain would be known to {percent:.0f} %)" in words


def test_noise_that_falls_with_the_level_is_no_linear_raw():
    rng = np.random.default_rng(2)
    rows = np.linspace(100, 400, 640)[:, None]
    samples = rng.normal(rows, 40 - rows / 15, (640, 902)) + 500
    levels = np.full((2, 2), 500.0), np.full((2, 2), 15000.0)
    pattern = np.array([[0, 1], [1, 2]], dtype=np.uint8)
    frame = Frame(np.rint(samples).astype(np.uint16), pattern, *levels, "mosaic")
    found = find_stars(frame)
    everywhere = np.ones(found.sky.level.shape[:2], dtype=bool)
    assert measure_gain(frame, found, everywhere).reason is GainReason.NOT_LINEAR
    assert measure_gain(frame, found, ~everywhere).reason is GainReason.LITTLE_OPEN_SKY
