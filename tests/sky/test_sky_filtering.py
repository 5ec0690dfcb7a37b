"""The verdict on raw filtering: dark frames whose body filters, or does not."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.ndimage import maximum_filter

from nightglass.frame.record import Frame, Metadata
from nightglass.sky.filtering import filtering, wilson


def dark(filtered: bool, hot: int = 400, mode: str = "bulb", level: float = 2.0, seed: int = 1):
    rng = np.random.default_rng(seed)
    samples = rng.normal(1000 + level, 5.0, size=(600, 802))
    y, x = rng.integers(0, 600, hot), rng.integers(0, 802, hot)
    samples[y, x] += rng.exponential(300, hot) + 80
    if filtered:
        # Each sample is cut to the brightest of its eight neighbours of the same colour.
        for i in range(2):
            for j in range(2):
                plane = samples[i::2, j::2]
                ring = np.ones((3, 3), bool)
                ring[1, 1] = False
                samples[i::2, j::2] = np.minimum(plane, maximum_filter(plane, footprint=ring))
    return Frame(
        np.clip(np.rint(samples), 0, 16000).astype(np.uint16),
        np.array([[0, 1], [1, 2]], np.uint8),
        np.full((2, 2), 1000.0),
        np.full((2, 2), 16000.0),
        "mosaic",
        Metadata(exposure_true_s=30.0, exposure_mode=mode),
        file="dark.dng",
    )


def test_an_unfiltered_body_keeps_its_hot_pixels():
    (found,) = filtering([dark(False)])
    assert found.verdict == "not filtered"
    assert found.bright > 300
    assert found.alone_share > 0.9
    assert "small stars are safe" in found.words


def test_a_filtering_body_is_told_mode_by_mode():
    frames = [dark(True, hot=9000, seed=k) for k in range(3)] + [dark(False, mode="manual")]
    by_mode = {found.mode: found for found in filtering(frames)}
    assert by_mode["bulb"].verdict == "filtered"
    assert by_mode["bulb"].frames == 3
    assert by_mode["manual"].verdict == "not filtered"
    assert "stars of 2 px and less lose light" in by_mode["bulb"].words


def test_too_few_hot_pixels_tell_nothing():
    (found,) = filtering([dark(False, hot=10)])
    assert found.verdict == "can't tell"
    assert found.alone_share is None
    assert "it takes 40: more darks, longer, or warmer" in found.words


def test_wilson_interval_of_a_worked_case():
    # 15 of 50: 0.191 to 0.438 by Wilson's formula (own arithmetic).
    low, high = wilson(15, 50)
    assert low == pytest.approx(0.191, abs=5e-4)
    assert high == pytest.approx(0.438, abs=5e-4)


def test_light_and_nothing_are_refused():
    with pytest.raises(ValueError, match=r"no dark frames; take some with the cap on"):
        filtering([])
    with pytest.raises(ValueError, match=r"dark.dng: level 5000 counts above black"):
        filtering([dark(False, level=5000.0)])
