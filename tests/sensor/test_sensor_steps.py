"""ISO steps: a second gain is found where it is, and none where there is none."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nightglass.sensor.codes import Finding
from nightglass.sensor.records import Known
from nightglass.sensor.steps import Step, second_gain, step_findings


def steps(noises, gain_at_100=3.0, err=0.005):
    return [
        Step(iso, Known(gain_at_100 * 100 / iso, 1e-3), Known(noise, err * noise), 1.0)
        for iso, noise in noises.items()
    ]


@pytest.mark.parametrize(
    ("noises", "iso"),
    [
        ({100: 6.0, 200: 5.0, 400: 4.6, 800: 1.9, 1600: 1.7}, 800),
        ({100: 3.6, 200: 3.4, 320: 3.3, 400: 1.6, 800: 1.4, 1600: 1.3}, 400),
        ({400: 3.5, 640: 1.6}, 640),
        ({100: 14.0, 200: 11.8, 400: 10.9, 800: 10.5, 1600: 10.4}, None),
        ({100: 12.0, 200: 6.1, 400: 3.2, 800: 1.9, 1600: 1.4}, None),
        ({800: 2.0}, None),
        ({}, None),
    ],
)
def test_second_gain_of_bodies_with_one_and_two(noises, iso):
    assert second_gain(steps(noises)) == iso


@given(
    before=st.floats(0.5, 12), behind=st.floats(0.2, 4), ratio=st.sampled_from([2 ** (1 / 3), 2.0])
)
def test_a_sensor_with_one_gain_never_shows_a_second(before, behind, ratio):
    gains = 3.0 / ratio ** np.arange(7)
    noises = {round(100 * 3.0 / g): float(np.hypot(before, behind * g)) for g in gains}
    assert second_gain(steps(noises)) is None


def test_read_noise_that_stays_is_told_from_its_first_step():
    found = step_findings(steps({100: 5.0, 200: 3.0, 400: 2.02, 800: 2.0, 1600: 2.0}))
    assert [(one.code, dict(one.values)) for one in found] == [(Finding.SAME_NOISE, {"iso": 400})]


def test_a_step_whose_noise_is_not_known_says_nothing():
    unknown = [Step(iso, Known(), Known(), None) for iso in (100, 200)]
    assert second_gain(unknown) is None
    assert step_findings(unknown) == []
