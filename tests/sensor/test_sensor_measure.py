"""A whole sensor from its frames: planted gain, noise, patterns, dark current, ISO steps."""

from __future__ import annotations

import numpy as np
import pytest
from sensor_frames import SIX, Roll, chip, in_memory

from nightglass.scene.flats import DARK, Light
from nightglass.sensor.codes import DarkMethod, Finding, LeftOut, NotMet, Role
from nightglass.sensor.measure import measure_sensor

LEVELS = (0.6, 0.3, 0.15, 0.06, 0.02, 0.008)


def measured(monkeypatch, *rolls, **more):
    frames = []
    for number, roll in enumerate(rolls):
        for one in roll.frames:
            object.__setattr__(one, "file", f"{number}-{one.file}")
            object.__setattr__(one, "content_hash", one.file)
            frames.append(one)
    return measure_sensor(in_memory(monkeypatch, frames), **more)


def codes(found):
    return [said.code for said in found]


@pytest.mark.parametrize(
    ("gain", "noise"), [(0.2, 1.0), (0.5, 3.0), (1.0, 1.4), (4.0, 5.0), (12.0, 14.0)]
)
def test_gain_and_read_noise_come_back(monkeypatch, gain, noise):
    # 80,000 green samples a frame, a hundredth of a camera's: ten times its errors, and a falloff
    # that fits so few pixels. The goals for 24 Mpx (1 and 2 %) are held by
    # benchmarks/sensor_accuracy.py.
    sensor = chip(
        gain, noise, width_px=480, height_px=336, bend=0.01, response_pattern=0.008,
        dark_pattern_e=0.2 * noise, hot_share=1e-4,
    )  # fmt: skip
    roll = Roll(sensor).bias().flats(LEVELS, 0.03, falloff=0.15, flicker=0.03, flicker_rows=300)
    step = measured(monkeypatch, roll).isos[0]
    for colour in step.colours:
        for known, planted in ((colour.gain_e_per_count, gain), (colour.read_noise_e, noise)):
            assert known.value == pytest.approx(planted, rel=0.03), colour.colour
            assert abs(known.value - planted) < 4 * known.err
    green = step.colour()
    assert green.full_scale_e.value == pytest.approx(sensor.full_scale_e, rel=0.02)
    assert green.response_pattern_percent.value == pytest.approx(0.8, rel=0.1)
    assert step.pattern.pixel_pattern.value == pytest.approx(0.2 * noise, rel=0.3)


def test_a_six_by_six_mosaic_is_measured_like_a_bayer_one(monkeypatch):
    sensor = chip(1.5, 4.0, pattern=SIX, width_px=576, height_px=288)
    step = measured(monkeypatch, Roll(sensor).bias().flats(LEVELS)).isos[0]
    assert [c.colour for c in step.colours] == ["red", "green", "blue"]
    for colour in step.colours:
        assert colour.gain_e_per_count.value == pytest.approx(1.5, rel=0.03)
        assert colour.read_noise_e.value == pytest.approx(4.0, rel=0.03)


def test_noise_that_whole_counts_hide_is_a_bound(monkeypatch):
    sensor = chip(12.0, 2.0)
    step = measured(monkeypatch, Roll(sensor).bias().flats(LEVELS)).isos[0]
    noise = step.colour().read_noise_e
    assert noise.value is None
    assert 2.0 < noise.at_most < 8.0
    assert Finding.COARSE_COUNTS in codes(step.findings)
    assert step.colour().gain_e_per_count.value == pytest.approx(12.0, rel=0.03)


def test_rows_that_jump_are_told_from_columns_that_stay(monkeypatch):
    sensor = chip(1.0, 3.0, width_px=576, height_px=384, row_noise_e=0.8, column_pattern_e=0.6)
    step = measured(monkeypatch, Roll(sensor).bias().flats(LEVELS)).isos[0]
    assert step.pattern.row_noise.value == pytest.approx(0.8, abs=4 * step.pattern.row_noise.err)
    column = step.pattern.column_pattern
    assert column.value == pytest.approx(0.6, abs=4 * column.err)
    assert step.pattern.row_pattern.value < 0.2
    assert step.pattern.column_noise.value < 0.2
    assert step.colour().read_noise_e.value == pytest.approx(np.hypot(3, 0.8), rel=0.03)
    assert {Finding.ROWS_SHOW, Finding.COLUMNS_SHOW} <= set(codes(step.findings))


def test_dark_current_and_hot_pixels(monkeypatch):
    sensor = chip(0.5, 2.0, width_px=480, height_px=288, dark_e_per_s=0.2, hot_share=4e-4)
    roll = Roll(sensor).bias().flats(LEVELS)
    for _ in range(2):
        roll.take(DARK, 32.0)
    report = measured(monkeypatch, roll, temperature_c=11.0)
    (dark,) = report.isos[0].darks
    assert dark.method is DarkMethod.LEVEL
    assert dark.current_e_per_s.value == pytest.approx(0.2, abs=4 * dark.current_e_per_s.err)
    assert dark.hot_per_mpx.value == pytest.approx(400, abs=4 * dark.hot_per_mpx.err)
    assert dark.noise_e.value == pytest.approx(np.sqrt(4 + 6.4), rel=0.03)
    assert (report.temperature_c, dark.exposure_s, dark.frames) == (11.0, 32.0, 2)
    assert Finding.TEMPERATURE_UNKNOWN not in codes(report.findings)


def test_a_body_that_hides_the_dark_level_is_seen_through(monkeypatch):
    sensor = chip(0.5, 2.0, width_px=480, height_px=288, dark_e_per_s=1.0)
    roll = Roll(sensor).bias().flats(LEVELS)
    for _ in range(2):
        counts = roll.take(DARK, 30.0)
        counts -= 60
    report = measured(monkeypatch, roll)
    (dark,) = report.isos[0].darks
    assert dark.method is DarkMethod.NOISE
    assert dark.current_e_per_s.value == pytest.approx(1.0, abs=4 * dark.current_e_per_s.err)
    assert Finding.DARK_LEVEL_HIDDEN in codes(report.findings)


def test_linearity_over_time_is_that_of_the_planted_bend(monkeypatch):
    sensor = chip(1.0, 3.0, bend=0.04)
    levels = (0.85, 0.6, 0.42, 0.3, 0.21, 0.15, 0.1, 0.07)
    step = measured(monkeypatch, Roll(sensor).bias().flats(levels, 0.0)).isos[0]
    # Levels x (1 - 0.04 x) against the best straight line with relative weights, by hand.
    x = np.array(levels)
    y = x * (1 - 0.04 * x)
    a, b = np.linalg.lstsq(np.stack([1 / y, x / y], axis=1), np.ones(8), rcond=None)[0]
    expected = np.mean(np.abs(100 * (y - a - b * x) / (a + b * x)))
    found = step.linearity
    assert found.error_percent.value == pytest.approx(expected, abs=0.05)
    assert (found.steps, found.light_scatter_percent < 0.2) == (8, True)
    assert step.colour().bend_percent.value == pytest.approx(4.0, abs=0.8)


def test_second_gain_and_multiplied_steps(monkeypatch):
    planted = {100: 6.0, 200: 5.0, 400: 4.6, 800: 1.9, 1600: 1.75, 3200: 1.75}
    rolls = []
    for number, (iso, noise) in enumerate(planted.items()):
        times = 2.0 if iso == 3200 else 1.0
        sensor = chip(3.0 * 100 / iso * times, noise, multiplied=times, width_px=384)
        rolls.append(Roll(sensor, iso, seed=number + 5).bias().flats(LEVELS[:5]))
    report = measured(monkeypatch, *rolls)
    assert [one.iso for one in report.isos] == list(planted)
    assert report.second_gain_iso == 800
    for one in report.isos:
        assert one.colour().read_noise_e.value == pytest.approx(planted[one.iso], rel=0.04)
        gain = 300 / one.iso
        assert one.colour().gain_e_per_count.value == pytest.approx(gain, rel=0.04)
    (multiplied,) = [s for s in report.findings if s.code is Finding.MULTIPLIED]
    assert dict(multiplied.values) == {"iso": 3200, "from_iso": 1600, "step": 2.0}
    assert Finding.COUNTS_SKIPPED in codes(report.isos[-1].findings)


def test_a_step_that_is_only_a_tag(monkeypatch):
    rolls = [Roll(chip(0.4, 2.0), iso, seed=iso).bias().flats(LEVELS[:5]) for iso in (800, 1600)]
    report = measured(monkeypatch, *rolls)
    (tag,) = [s for s in report.findings if s.code is Finding.ONLY_A_TAG]
    assert dict(tag.values) == {"iso": 1600, "as_iso": 800}
    assert report.second_gain_iso is None


def test_clipping_comes_from_overexposed_frames(monkeypatch):
    sensor = chip(1.0, 3.0, clipping=15000)
    roll = Roll(sensor).bias().flats(LEVELS)
    for one in roll.frames:
        one.clipping[:] = 16383.0
    roll.take(Light(4 * sensor.full_scale_e), 5.0)
    roll.frames[-1].clipping[:] = 16383.0
    report = measured(monkeypatch, roll)
    step = report.isos[0]
    assert step.clipping_from == "data"
    assert [c.clipping_counts for c in step.colours] == [15000.0] * 3
    assert [t.role for t in report.taken][-1] is Role.OVEREXPOSED
    assert Finding.CLIPPING_FROM_FILE not in codes(report.findings)


def test_bias_alone_gives_noise_in_counts_and_says_what_is_missing(monkeypatch):
    report = measured(monkeypatch, Roll(chip(0.5, 2.0)).bias())
    green = report.isos[0].colour()
    assert green.read_noise_e.value is None
    assert green.read_noise_counts.value == pytest.approx(4.0, rel=0.03)
    assert Finding.NO_FLATS in codes(report.isos[0].findings)
    assert report.isos[0].pattern.unit == "counts"
    assert not report.measured


def test_one_flat_only_is_left_out_and_nothing_is_made_up(monkeypatch):
    roll = Roll(chip()).bias()
    roll.take(Light(3000.0), 0.1)
    report = measured(monkeypatch, roll)
    assert report.taken[-1].reason is LeftOut.ALONE
    assert report.isos[0].colour().gain_e_per_count.value is None


def test_flats_without_bias_still_give_the_gain(monkeypatch):
    report = measured(monkeypatch, Roll(chip(1.0, 3.0)).flats(LEVELS))
    step = report.isos[0]
    assert step.colour().gain_e_per_count.value == pytest.approx(1.0, rel=0.03)
    assert step.colour().read_noise_e.value is None
    assert Finding.NO_BIAS in codes(step.findings)


def test_what_the_standard_asks_for_and_is_not_met(monkeypatch):
    report = measured(monkeypatch, Roll(chip()).bias())
    assert set(report.not_met) == set(NotMet)


def test_progress_is_told(monkeypatch):
    told = []
    roll = Roll(chip()).bias().flats((0.5, 0.1))
    measured(monkeypatch, roll, on_progress=lambda *words: told.append(words))
    assert told[0] == ("looking at frames", 1, 6)
    assert told[-1] == ("measuring pairs", 3, 3)
