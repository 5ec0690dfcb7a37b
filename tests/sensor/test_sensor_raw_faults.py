"""Raw files that were cut, smoothed, coarsened or moved are named, with what that does."""

from __future__ import annotations

import numpy as np
import pytest
from sensor_frames import Roll, chip, in_memory

from nightglass.sensor.codes import Finding
from nightglass.sensor.measure import measure_sensor

LEVELS = (0.6, 0.3, 0.12, 0.05, 0.02, 0.008)


def step_of(monkeypatch, roll, change=None):
    for one in roll.frames:
        if change is not None:
            one.samples[:] = change(one.samples)
    return measure_sensor(in_memory(monkeypatch, roll.frames)).isos[0]


def said(step):
    return {one.code: dict(one.values) for one in step.findings}


def test_an_honest_file_has_nothing_said_against_it(monkeypatch):
    roll = Roll(chip(0.8, 3.0, width_px=480)).bias().flats(LEVELS)
    roll.frames[0].samples  # noqa: B018
    assert said(step_of(monkeypatch, roll)) == {}


def test_noise_cut_at_black_is_found_and_the_flats_give_the_whole(monkeypatch):
    sensor = chip(0.8, 3.0, width_px=576, height_px=384)
    roll = Roll(sensor).bias().flats((*LEVELS, 0.003))
    for one in roll.frames:
        one.black[:] = 0.0
        one.clipping[:] = sensor.clipping - 512.0
    step = step_of(
        monkeypatch, roll, lambda s: np.maximum(s.astype(int) - 512, 0).astype(np.uint16)
    )
    found = said(step)
    assert found[Finding.BLACK_CLIPPED]["percent"] == pytest.approx(54, abs=3)
    assert Finding.NOISE_FROM_FLATS in found
    noise = step.colour().read_noise_e
    assert noise.value == pytest.approx(3.0, abs=4 * noise.err)
    # What the cut frames alone would say: 0.58 of the noise.
    assert noise.value > 2.4


def test_smoothed_raw_is_found(monkeypatch):
    def smooth(samples):
        wide = samples.astype(float)
        wide[:, 2:-2] = 0.08 * wide[:, :-4] + 0.84 * wide[:, 2:-2] + 0.08 * wide[:, 4:]
        return np.rint(wide).astype(np.uint16)

    step = step_of(monkeypatch, Roll(chip(0.8, 5.0)).bias().flats(LEVELS), smooth)
    assert said(step)[Finding.SMOOTHED]["percent"] == pytest.approx(18.7, abs=2)


def test_black_off_its_stated_level_is_told_and_does_no_harm(monkeypatch):
    roll = Roll(chip(0.8, 3.0)).bias().flats(LEVELS)
    for one in roll.frames:
        one.black[:] = 496.0
    step = step_of(monkeypatch, roll)
    assert said(step)[Finding.BLACK_MOVED] == {"counts": pytest.approx(16, abs=0.1), "file": 496.0}
    assert step.colour().gain_e_per_count.value == pytest.approx(0.8, rel=0.03)


def test_lossy_highlights_are_told_and_their_rounding_is_taken_off(monkeypatch):
    def coarse(samples):
        wide = samples.astype(int)
        # Steps of 8 counts above 2,000 counts, as a curve of a lossy file makes them.
        return np.where(wide > 2000, wide // 8 * 8 + 4, wide).astype(np.uint16)

    sensor = chip(0.8, 3.0, width_px=960, height_px=672)
    step = step_of(monkeypatch, Roll(sensor).bias().flats(LEVELS), coarse)
    found = said(step)
    assert found[Finding.COARSE_HIGHLIGHTS]["step"] == pytest.approx(8, abs=0.5)
    assert step.colour().gain_e_per_count.value == pytest.approx(0.8, rel=0.03)


def test_flicker_and_bend_are_told(monkeypatch):
    sensor = chip(0.5, 3.0, width_px=960, height_px=672, bend=0.03)
    step = step_of(monkeypatch, Roll(sensor).bias().flats(LEVELS, 0.06))
    found = said(step)
    assert found[Finding.LIGHT_FLICKERS]["percent"] > 3
    assert found[Finding.BENT]["percent"] == pytest.approx(3, abs=0.6)


def test_few_levels_are_told(monkeypatch):
    step = step_of(monkeypatch, Roll(chip()).bias().flats((0.3, 0.1)))
    assert said(step)[Finding.FEW_LEVELS] == {"levels": 2}
