"""Marks of shutter and aperture against the powers of two behind them."""

import itertools
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nightglass.gear.dial import (
    DialStep,
    dial_gain_stops,
    dial_steps,
    exact_f_number,
    longest_dial_step,
    longest_remote_s,
    true_time_s,
)


@pytest.mark.parametrize(
    ("marked_s", "true_s"),
    # Powers behind the marks; the list of nominal times is the one of Exif 2.2 as read in
    # property documents, marks belong to ISO 516:2019. Read and recomputed.
    [
        (30, 32.0), (25, 25.398), (20, 20.159), (15, 16.0), (13, 12.699), (10, 10.079), (8, 8.0),
        # more thirds, 2^(k/3), recomputed
        (6, 6.350), (5, 5.040), (3.2, 3.175), (2.5, 2.520), (1.6, 1.587), (1.3, 1.260),
        (0.3, 0.31498), (1 / 3, 0.31498), (1 / 60, 1 / 64), (1 / 8000, 1 / 8192),
    ],
)  # fmt: skip
def test_marks_are_names_of_exact_powers(marked_s, true_s):
    assert true_time_s(marked_s) == pytest.approx(true_s, abs=6e-4)


def test_a_time_that_is_no_mark_stays():
    for time_s in (17.0, 32.0, 25.398, 45.0, 1 / 90):
        assert true_time_s(time_s) == time_s


def test_times_beyond_the_end_of_the_dial_are_no_marks():
    assert true_time_s(60.0) == 60.0
    assert true_time_s(60.0, dial_end_s=60.0) == 64.0
    assert true_time_s(20.0, dial_end_s=15.0) == 20.0


def test_error_of_taking_the_mark_literally():
    # 30 and 15: -6.25 %, -0.093 EV; 1/60: +6.67 %. Derived, recomputed.
    assert 30 / true_time_s(30) - 1 == pytest.approx(-0.0625)
    assert math.log2(15 / true_time_s(15)) == pytest.approx(-0.0931, abs=1e-4)
    assert (1 / 60) / true_time_s(1 / 60) - 1 == pytest.approx(0.0667, abs=1e-4)


@pytest.mark.parametrize(
    ("marked", "exact"),
    # Powers of the square root of 2; ISO 517:2008 covers aperture marks (scope read), recomputed.
    [
        (1.4, 1.41421), (1.6, 1.58740), (1.8, 1.78180), (2.2, 2.24492), (2.5, 2.51984),
        (2.8, 2.82843), (3.2, 3.17480), (3.5, 3.56359), (4.5, 4.48985), (5.6, 5.65685),
        (6.3, 6.34960), (11, 11.3137), (13, 12.6992), (22, 22.6274), (1.0, 1.0), (32, 32.0),
        # ambiguous: read as a third of a stop, 1.25992 and not 1.18921
        (1.2, 1.25992),
        # half-stop marks, 2^(k/4)
        (1.7, 1.68179), (2.4, 2.37841), (6.7, 6.72717), (9.5, 9.51366), (19, 19.0273),
        # no marks
        (0.95, 0.95), (2.9, 2.9),
    ],
)  # fmt: skip
def test_exact_f_numbers(marked, exact):
    assert exact_f_number(marked) == pytest.approx(exact, rel=1e-5)


def test_largest_rounding_errors_of_f_marks():
    # f/11 and f/22 -0.081 EV, f/13 +0.068 EV, f/1.4 -0.029 EV. Derived, recomputed.
    for marked, ev in ((11, -0.081), (22, -0.081), (13, 0.068), (1.4, -0.029)):
        assert 2 * math.log2(marked / exact_f_number(marked)) == pytest.approx(ev, abs=6e-4)


@pytest.mark.parametrize(
    ("focal_mm", "marked_s"), [(10, 30), (12, 30), (15, 25), (16, 20), (20, 15), (24, 15)]
)
def test_working_rule_on_the_dial(focal_mm, marked_s):
    # 360 / focal length on a sensor 15.6 mm high: common practice.
    assert longest_dial_step(360 / focal_mm, 30.0).marked_s == marked_s


def test_the_dial_costs_or_gains_light():
    assert dial_gain_stops(longest_dial_step(24.0, 30.0), 24.0) == pytest.approx(
        math.log2(25.398 / 24), abs=1e-4
    )
    assert dial_gain_stops(longest_dial_step(22.5, 30.0), 22.5) < 0
    assert dial_gain_stops(DialStep(30.0, 32.0), 64.0) == pytest.approx(-1.0)


def test_the_dial_may_end_early_or_late():
    assert dial_steps(30.0)[-1] == DialStep(30.0, 32.0)
    assert dial_steps(15.0)[-1].marked_s == 15.0
    assert dial_steps(60.0)[-1] == DialStep(60.0, 64.0)
    assert dial_steps(900.0)[-1] == DialStep(900.0, 1024.0)
    assert longest_dial_step(400.0, 30.0).marked_s == 30.0
    assert longest_dial_step(math.inf, 30.0).marked_s == 30.0


def test_every_mark_lies_within_a_tenth_of_a_stop_of_its_power():
    steps = dial_steps(800.0)
    for step in steps:
        assert abs(math.log2(step.marked_s / step.true_s)) < 0.11
        assert true_time_s(step.marked_s, 800.0) == step.true_s
    for short, long in itertools.pairwise(steps):
        assert long.true_s / short.true_s == pytest.approx(2 ** (1 / 3))


@pytest.mark.parametrize(("focal_mm", "shown_s"), [(8, 45), (11, 33), (14, 26), (16, 23), (18, 20)])
def test_remote_times_of_the_working_rule(focal_mm, shown_s):
    """Common practice: 360 / focal length to the nearest second on a sensor 15.6 mm high."""
    assert round(longest_remote_s(360 / focal_mm, 30.0)) == shown_s


def test_remote_is_the_nearest_second_within_the_dials_tolerance():
    assert longest_remote_s(17.5, 30.0) == 18.0
    assert longest_remote_s(17.4, 30.0) == 17.0
    # 7 s would be 9 % over 6.4 s and 6 s is under the dial's own 6.35 s.
    assert longest_remote_s(6.4, 30.0) == pytest.approx(2 ** (8 / 3))
    # 15 s: the dial's step marked 15 is 16 s, within its tolerance; a remote holds it too.
    assert longest_remote_s(15.0, 30.0) == 16.0
    assert longest_remote_s(0.7, 30.0) == pytest.approx(2 ** (-2 / 3))
    assert longest_remote_s(math.inf, 30.0) == math.inf


@given(st.floats(2e-4, 2000.0))
def test_no_time_is_over_what_is_allowed(limit_s):
    step = longest_dial_step(limit_s, 30.0)
    assert step.true_s <= longest_remote_s(limit_s, 30.0) <= 1.07 * limit_s * (1 + 2e-9)
    assert step.true_s <= 1.07 * limit_s * (1 + 2e-9)
    if step.marked_s < 30:
        assert step.true_s * 2 ** (1 / 3) > 1.07 * limit_s


def test_bad_input():
    with pytest.raises(ValueError, match=r"f-number is 0; it must be above 0, as f/2.8 is 2.8"):
        exact_f_number(0)
    with pytest.raises(ValueError, match="marked_s is -1; an exposure time is above 0 seconds"):
        true_time_s(-1)
    with pytest.raises(ValueError, match="dial_end_s is 0; the longest mark of a dial is 1/8000 s"):
        dial_steps(0)
    with pytest.raises(ValueError, match="limit_s is 1e-05; the shortest step of the dial is"):
        longest_dial_step(1e-5, 30.0)
    with pytest.raises(ValueError, match="limit_s is nan; a longest time is above 0 seconds"):
        longest_remote_s(math.nan, 30.0)
