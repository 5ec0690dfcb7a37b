"""Marked and true times against published powers and APEX values.

APEX time value Tv = -log2(t): CIPA DC-008 (Exif 2.32), annex C; shutter marks and their powers:
common practice in thirds of stops.
"""

from __future__ import annotations

import pytest

from nightglass.frame.exposure import exposure_times


@pytest.mark.parametrize(
    ("recorded", "marked", "true"),
    [
        (30.0, 30.0, 32.0),
        (25.0, 25.0, 2 ** (14 / 3)),
        (20.0, 20.0, 2 ** (13 / 3)),
        (15.0, 15.0, 16.0),
        (10.0, 10.0, 2 ** (10 / 3)),
        (1.0, 1.0, 1.0),
        (1 / 60, 1 / 60, 1 / 64),
        (1 / 8000, 1 / 8000, 1 / 8192),
        (0.3, 0.3, 2 ** (-5 / 3)),
        (1 / 3, 0.3, 2 ** (-5 / 3)),
    ],
)
def test_a_mark_has_its_power_as_true_time(recorded, marked, true):
    found = exposure_times(recorded)
    assert found == (pytest.approx(marked, rel=0.02), pytest.approx(true, rel=1e-12))


@pytest.mark.parametrize(
    ("recorded", "marked"), [(32.0, 30.0), (25.4, 25.0), (20.16, 20.0), (16.0, 15.0)]
)
def test_a_recorded_power_is_true_and_its_mark_is_looked_up(recorded, marked):
    assert exposure_times(recorded) == (marked, pytest.approx(recorded))


@pytest.mark.parametrize("seconds", [47.0, 17.3, 62.0, 240.0, 2000.0])
def test_a_remote_release_is_true_as_recorded(seconds):
    assert exposure_times(seconds) == (seconds, seconds)


@pytest.mark.parametrize(
    ("recorded", "apex", "true"),
    [
        (30.0, -5.0, 32.0),
        (None, -5.0, 32.0),
        (60.0, -6.0, 64.0),
        (25.0, -4.6667, 2 ** (14 / 3)),
        (30.0, -4.906891, 32.0),
        (47.0, -5.55459, 47.0),
        (30.0, 0.0, 32.0),
        (30.0, 21845.0, 32.0),
        (47.0, -5.0, 47.0),
    ],
)
def test_apex_time_value_helps_where_it_is_a_power(recorded, apex, true):
    assert exposure_times(recorded, apex)[1] == pytest.approx(true)


def test_nothing_recorded_stays_nothing():
    assert exposure_times(None) == (None, None)
    assert exposure_times(None, -4.2) == (None, None)
    assert exposure_times(None, 0.0) == (None, None)
