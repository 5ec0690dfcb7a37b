"""What crosses into the store comes back the same: numbers, times with their zone, stamps."""

from datetime import datetime, timedelta, timezone

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nightglass.bench.store.plain import pack_light, plain, text_to_time, time_to_text, unpack_light


@pytest.mark.parametrize(
    ("value", "stored"),
    [
        (np.int64(5), 5), (np.uint16(65512), 65512), (np.float32(0.5), 0.5), (np.bool_(True), True),
        (float("nan"), None), (np.float64("inf"), None), (None, None), ("é", "é"), (3, 3),
    ],
)  # fmt: skip
def test_numpy_scalars_become_plain_numbers_and_nan_none(value, stored):
    assert plain(value) == stored
    assert type(plain(value)) is type(stored)


def test_arrays_are_refused():
    with pytest.raises(TypeError, match="ndarray can't be stored as one value"):
        plain(np.zeros(3))


@given(st.datetimes(datetime(1990, 1, 1), datetime(2100, 1, 1)), st.integers(-12 * 60, 14 * 60))
def test_time_keeps_its_instant_and_its_zone(moment, minutes):
    taken = moment.replace(tzinfo=timezone(timedelta(minutes=minutes)))
    back = text_to_time(*time_to_text(taken))
    assert back == taken
    assert back.utcoffset() == taken.utcoffset()


def test_late_evening_east_of_greenwich_is_stored_as_utc():
    taken = datetime(2027, 5, 6, 23, 30, tzinfo=timezone(timedelta(hours=2)))
    assert time_to_text(taken) == ("2027-05-06T21:30:00", 120)


def test_time_without_zone_stays_without():
    naive = datetime(2027, 5, 6, 23, 30)
    assert text_to_time(*time_to_text(naive)) == naive
    assert text_to_time(None, None) is None


def test_stamp_comes_back_bit_by_bit():
    light = np.random.default_rng(7).normal(size=(13, 9)).astype(np.float32)
    kept = light.copy()
    np.testing.assert_array_equal(unpack_light(pack_light(light), 13, 9), light)
    np.testing.assert_array_equal(light, kept)
