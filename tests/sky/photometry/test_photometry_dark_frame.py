"""Frames that were given as dark frames: bright samples as recorded, and frames that are none."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from test_photometry_filtering import dark

from nightglass.frame.record import Frame
from nightglass.sky.photometry.dark_frame import dark_samples
from nightglass.sky.photometry.filtering import filtering


def night(fwhm_px: float = 2.2, stars: int = 400, red: float = 1.0, level: float = 45.0) -> Frame:
    """Return a frame of the night sky: stars of a known width over a dim even sky."""
    rng = np.random.default_rng(4)
    frame = dark(False, hot=0)
    light = np.full(frame.samples.shape, level)
    light[::2, ::2] *= red
    y, x = np.mgrid[: light.shape[0], : light.shape[1]]
    for _ in range(stars):
        sx, sy = rng.uniform(20, 780), rng.uniform(20, 580)
        part = np.s_[int(sy) - 9 : int(sy) + 10, int(sx) - 9 : int(sx) + 10]
        away = (x[part] - sx) ** 2 + (y[part] - sy) ** 2
        light[part] += (150 + rng.exponential(800)) * np.exp(-4 * np.log(2) * away / fwhm_px**2)
    counts = 1000 + light + rng.normal(0, 15, light.shape)
    return replace(
        frame, samples=np.clip(np.rint(counts), 0, 16000).astype(np.uint16), file="night.dng"
    )


@pytest.mark.parametrize("fwhm_px", [1.6, 2.2, 5.0])
def test_stars_are_no_hot_pixels(fwhm_px):
    with pytest.raises(ValueError, match="its bright samples lie in clumps") as refused:
        filtering([night(fwhm_px)])
    assert str(refused.value) == (
        "night.dng: its bright samples lie in clumps, as stars do, not alone as hot pixels; this "
        "is no dark frame: take dark frames with the cap on and the eyepiece covered"
    )


def test_an_even_sky_without_stars_is_told_by_its_colours():
    with pytest.raises(ValueError) as refused:
        filtering([night(stars=0, red=0.5)])
    assert str(refused.value) == (
        "night.dng: its colours lie 22 and 45 counts above black, as light's do; this is no dark "
        "frame: take dark frames with the cap on and the eyepiece covered"
    )


@pytest.mark.parametrize("filtered", [False, True])
@pytest.mark.parametrize("hot", [0, 400, 9000, 40_000])
def test_dark_frames_are_taken_however_many_pixels_are_hot(filtered, hot):
    seen = dark_samples(dark(filtered, hot=hot))
    assert seen.value.shape == seen.neighbour.shape == seen.equal.shape


def test_a_warm_even_dark_frame_is_taken():
    assert dark_samples(dark(False, level=90.0)).value.size > 300


def test_the_brightest_of_twenty_four_neighbours_and_equal_ones_are_found():
    frame = dark(False, hot=0)
    samples = frame.samples.copy()
    # A sample with its brightest neighbour two away, and one that equals one of its own colour
    # beside a brighter one of another.
    samples[100, 101], samples[102, 99] = 3000, 2000
    samples[300, 300], samples[300, 302], samples[301, 300] = 4000, 4000, 5000
    seen = dark_samples(replace(frame, samples=samples))
    order = np.argsort(seen.value)
    # Values are deviations of the frame's noise, about 5 counts; levels lie 2 above black.
    noise = 1998 / seen.value[order[1]]
    assert noise == pytest.approx(5.05, rel=0.05)
    assert np.rint(seen.value[order] * noise) == pytest.approx([998, 1998, 2998, 2998, 3998], abs=9)
    around = np.rint(seen.neighbour[order] * noise)
    assert around == pytest.approx([1998, 998, 3998, 3998, 2998], abs=9)
    assert seen.equal[order].tolist() == [False, False, True, True, False]
