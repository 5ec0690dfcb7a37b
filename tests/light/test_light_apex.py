"""Exposure values against the standard's series and a file's own numbers."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nightglass.gear.dial import exact_f_number, true_time_s
from nightglass.light.apex import (
    aperture_value,
    exposure_from_time_value,
    exposure_value,
    f_number_from_aperture_value,
    speed_value,
    stops_between,
    time_value,
)


def test_speed_values():
    # S = 100, 1600, 3200: 5, 9, 10, exact with 3.125. ASA PH2.5-1960, as two articles
    # quote it.
    np.testing.assert_allclose(speed_value([100, 1600, 3200]), [5, 9, 10])


def test_values_as_a_file_records_them():
    # ShutterSpeedValue 8643856/1000000 and ApertureValue 1695994/1000000 are 1/400 s and f/1.8:
    # question on photo.stackexchange (CC BY-SA 4.0).
    assert exposure_from_time_value(8.643856) == pytest.approx(1 / 400, rel=1e-6)
    assert f_number_from_aperture_value(1.695994) == pytest.approx(1.8, rel=1e-6)


def test_exposure_value_of_a_night_frame():
    # f/2.8 taken literally, 30 s: -1.9360; by exact powers (2.828, 32 s) -2. Recomputed.
    assert exposure_value(2.8, 30) == pytest.approx(-1.9360, abs=1e-4)
    assert exposure_value(exact_f_number(2.8), true_time_s(30)) == pytest.approx(-2.0)


@given(st.floats(1e-4, 1e3), st.floats(0.7, 32))
def test_round_trips(exposure_s, f_number):
    assert float(exposure_from_time_value(time_value(exposure_s))) == pytest.approx(exposure_s)
    assert float(f_number_from_aperture_value(aperture_value(f_number))) == pytest.approx(f_number)


def test_stops():
    assert stops_between(2.0, 1.0) == pytest.approx(1.0)
    assert stops_between(1.0, 1.26) == pytest.approx(-1 / 3, abs=1e-3)


def test_bad_input():
    with pytest.raises(ValueError, match="exposure_s is 0; it must be above 0"):
        time_value(0)
    with pytest.raises(ValueError, match="iso is -1; it must be above 0"):
        speed_value([100, -1])
