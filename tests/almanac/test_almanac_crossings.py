"""Crossings of a level on a grid: known roots, short visits, spans."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nightglass.almanac.crossings import crossings, turning_points
from nightglass.almanac.windows import complement, length_s, minus, overlap, windows

GRID = np.arange(0.0, 86401.0, 300.0)


def test_roots_of_a_sine_are_found_to_a_millisecond():
    def height(t):
        return np.sin(2 * np.pi * (t - 1234.567) / 40000)

    found = crossings(height, GRID)
    assert found.times_s == pytest.approx(
        [1234.567, 21234.567, 41234.567, 61234.567, 81234.567], abs=1e-3
    )
    assert found.rising.tolist() == [True, False, True, False, True]
    assert not found.up_at_start


@given(st.floats(1000, 85000), st.floats(2, 140))
def test_a_visit_shorter_than_the_grid_is_seen(middle_s, half_s):
    def height(t):
        return half_s**2 - (t - middle_s) ** 2

    found = crossings(height, GRID)
    assert found.times_s == pytest.approx([middle_s - half_s, middle_s + half_s], abs=0.5)


def test_no_crossing_is_an_empty_list():
    found = crossings(lambda t: np.full_like(t, 5.0) + 0.1 * np.sin(t / 9000), GRID)
    assert found.times_s.size == 0
    assert found.up_at_start
    assert found.spans_up(10.0, 500.0) == [(10.0, 500.0)]


def test_spans_inside_a_part():
    found = crossings(lambda t: np.sin(2 * np.pi * t / 40000 + 0.1), GRID)
    for start, end in found.spans_up(15000, 70000):
        assert 15000 <= start < end <= 70000
    assert len(found.spans_up(15000, 70000)) == 2
    assert len(found.inside(0, 86400, True)) == 2


def test_turning_points_by_a_parabola():
    times, values = turning_points(GRID, 100 - ((GRID - 40077.0) / 3000) ** 2)
    assert times == pytest.approx([40077.0])
    assert values == pytest.approx([100.0])


def test_spans_taken_apart():
    # seconds; what lasts a second or less is no window
    assert complement([(20, 40), (60, 80)], 0, 100) == [(0, 20), (40, 60), (80, 100)]
    assert complement([(20, 99.5)], 0, 100) == [(0, 20)]
    assert minus([(0, 100)], [(20, 40), (90, 200)]) == [(0, 20), (40, 90)]
    assert overlap([(0, 50)], [(30, 90)]) == [(30, 50)]
    assert length_s([(0, 50), (70, 100)]) == 80
    (window,) = windows([(0.0, 7200.0)])
    assert window.hours == 2
    assert window.start.tzinfo is not None
