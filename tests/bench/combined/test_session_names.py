"""Sessions told apart by time, unless somebody said otherwise."""

import itertools
from datetime import UTC, datetime, timedelta, timezone

from hypothesis import given
from hypothesis import strategies as st

from nightglass.bench.combined.session_names import GAP_HOURS, session_names

EVENING = datetime(2027, 5, 6, 21, 30)


def named(*hours, typed=None):
    moments = [None if h is None else EVENING + timedelta(hours=h) for h in hours]
    return session_names(typed or [""] * len(moments), moments)


def test_a_session_over_midnight_is_one():
    assert named(0, 2, 4) == ["2027-05-06"] * 3


def test_a_long_pause_begins_another_session_in_any_order_of_files():
    assert named(30, 0, 1, 31) == ["2027-05-08", "2027-05-06", "2027-05-06", "2027-05-08"]


def test_two_sessions_of_one_date_carry_their_hour():
    assert named(-12, -11, 0) == ["2027-05-06 09:30", "2027-05-06 09:30", "2027-05-06 21:30"]


def test_what_was_typed_counts_and_frames_without_a_time_share_none():
    assert named(0, 0.5, None, typed=["", "attic", ""]) == ["2027-05-06", "attic", ""]


def test_zones_are_heeded_where_they_are_known():
    east = datetime(2027, 5, 7, 1, 0, tzinfo=timezone(timedelta(hours=9)))
    assert session_names(["", ""], [east, datetime(2027, 5, 6, 20, tzinfo=UTC)]) == [
        "2027-05-07",
        "2027-05-07",
    ]


@given(st.lists(st.floats(0, 200), min_size=1, max_size=12))
def test_frames_share_a_session_just_when_no_long_pause_parts_them(hours):
    names = named(*hours)
    order = sorted(range(len(hours)), key=lambda k: hours[k])
    for one, other in itertools.pairwise(order):
        # A minute is what names of sessions tell; microseconds are rounded by the clock.
        gap = hours[other] - hours[one]
        if abs(gap - GAP_HOURS) > 1e-6:
            assert (names[one] == names[other]) == (gap < GAP_HOURS)
