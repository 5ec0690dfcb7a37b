"""Exposure steps: from frames on record to a peak of 40 to 70 %."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shoot_benches import BODY

from nightglass.gear.lens import LensSetting
from nightglass.shoot.codes import ExposureSource
from nightglass.shoot.exposures import LEAST_PEAK, MOST_PEAK, Trial, exposure, step_for

AT_2 = LensSetting("Loan body", "Wren 12 mm f/2", 12, 2.0)
AT_4 = LensSetting("Loan body", "Wren 12 mm f/2", 12, 4.0)


def trial(setting=AT_2, place="centre", time=0.25, peak=0.13, clipped=False):
    return Trial(setting, place, time, 100, peak, clipped)


@given(st.floats(0.002, 20), st.floats(0.03, 1))
def test_next_step_lands_between_40_and_70_percent(time_s, peak):
    step = step_for(time_s, peak, BODY)
    if 1 / 8000 < step.marked_s < 30:
        assert LEAST_PEAK <= step.peak_share <= MOST_PEAK


def test_same_setting_and_place_counts_most_and_the_highest_peak_of_it():
    # A narrow spot's nucleus may fall on another colour: its peak is then far too low.
    known = [trial(peak=0.03), trial(AT_4, peak=0.5), trial(peak=0.13), trial(peak=0.06)]
    step = exposure(AT_2, "centre", known, BODY)
    # 0.529 / 0.13 = 4.07 times 1/4 s: the step of 1 s, with a peak of 0.52.
    assert (step.source, step.marked_s, step.iso) == (ExposureSource.SAME, 1.0, 100)
    assert step.peak_share == pytest.approx(0.52)


def test_other_f_number_goes_with_the_light():
    # Two stops down: a quarter of the light, four times as long.
    step = exposure(AT_4, "centre", [trial(peak=0.53)], BODY)
    assert (step.source, step.marked_s) == (ExposureSource.SCALED, 1.0)


def test_frames_at_another_iso_than_the_last_do_not_count():
    brighter = replace(trial(peak=0.6), iso=800)
    assert exposure(AT_2, "centre", [brighter, trial(peak=0.13)], BODY).marked_s == 1.0


def test_clipped_frames_say_only_shorter():
    step = exposure(AT_2, "centre", [trial(peak=1.0, clipped=True)], BODY)
    assert (step.source, step.marked_s, step.peak_share) == (
        ExposureSource.CLIPPED, pytest.approx(1 / 8), None,
    )  # fmt: skip


def test_lens_without_frames_has_to_be_tried():
    other = LensSetting("Loan body", "Plover", 24, 1.4)
    step = exposure(other, "centre", [trial()], BODY)
    assert (step.source, step.marked_s) == (ExposureSource.UNKNOWN, None)


def test_short_exposures_flicker():
    assert exposure(AT_2, "centre", [trial(time=1 / 60, peak=0.6)], BODY).flicker
    assert not exposure(AT_2, "centre", [trial(time=1 / 15, peak=0.6)], BODY).flicker
