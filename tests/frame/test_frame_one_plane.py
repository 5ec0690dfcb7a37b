"""Three planes as one: its mean, its black and its clipping."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from nightglass.frame.one_plane import CEILING, PEDESTAL, one_plane
from nightglass.frame.record import Frame


def planes(samples, black, clipping):
    return Frame(
        samples=samples,
        pattern=np.zeros((1, 1), dtype=np.uint8),
        black=np.array([black], dtype=np.float64),
        clipping=np.array([clipping], dtype=np.float64),
        kind="demosaiced",
        file="a.dng",
        notes=("kept",),
    )


def test_the_plane_is_the_mean_above_black_in_counts_of_its_own():
    rng = np.random.default_rng(5)
    samples = rng.integers(90, 900, (301, 207, 3)).astype(np.uint16)
    black, clipping = np.array([100, 110, 120]), np.array([1000, 1010, 1020])
    grey = one_plane(planes(samples, black, clipping))
    assert grey.samples.shape == (301, 207)
    assert grey.samples.dtype == np.uint16
    assert (grey.black.item(), grey.clipping.item()) == (PEDESTAL, CEILING)
    share = (samples - black).mean(axis=2) / 900
    got = (grey.samples.astype(float) - PEDESTAL) / (CEILING - PEDESTAL)
    np.testing.assert_allclose(got, share, atol=1.01 / (CEILING - PEDESTAL))
    # Noise below black is kept.
    assert share.min() < 0
    assert grey.samples.min() < PEDESTAL
    assert (grey.kind, grey.file, grey.notes) == ("demosaiced", "a.dng", ("kept",))
    assert grey.colours == ("grey",)


def test_where_one_plane_clips_the_mean_does():
    samples = np.full((70, 80, 3), 40, dtype=np.uint16)
    samples[3, 5] = (30, 255, 10)
    grey = one_plane(planes(samples, [0, 0, 0], [255, 255, 255]))
    assert np.argwhere(grey.samples == CEILING).tolist() == [[3, 5]]


def test_floats_of_any_scale_and_other_frames():
    light = np.random.default_rng(6).uniform(0, 0.9, (66, 67, 3)).astype(np.float32)
    grey = one_plane(planes(light, [0, 0, 0], [1, 1, 1]))
    assert abs(int(grey.samples.mean()) - PEDESTAL - 0.45 * (CEILING - PEDESTAL)) < 400
    mosaic = replace(grey, kind="mosaic")
    assert one_plane(mosaic) is mosaic
