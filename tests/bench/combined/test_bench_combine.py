"""Repeats combined: real scatter, small numbers, bounds."""

import math

import numpy as np
import pytest

from nightglass.bench.combined.combine import (
    Repeats,
    Scatter,
    circular_mean,
    combine,
    pooled_scatter,
)


def repeats(*values, noise=0.0, err=0.3, bounds=(), relative=True):
    n = len(values)
    return Repeats(values, (err,) * n, (noise,) * n, bounds, relative)


def test_one_repeat_has_the_error_of_its_own_measurement():
    one = combine(repeats(6.0))
    assert (one.value, one.err, one.at_most) == (6.0, 0.3, None)


def test_two_repeats_use_student_t_for_one_sigma():
    # t for 84.13 % and 1 degree of freedom is 1.837 (tables of Student's distribution); the
    # scatter of ln 5.9, ln 6.1 is 0.02357, over sqrt(2), times the mean 6.
    two = combine(repeats(5.9, 6.1))
    assert two.err == pytest.approx(1.837 * 0.023575 / math.sqrt(2) * 6.0, rel=1e-3)


@pytest.mark.parametrize("n", [2, 3, 5, 8])
def test_error_covers_the_truth_in_68_percent_whatever_the_number_of_repeats(n):
    random = np.random.default_rng(20270506 + n)
    inside = 0
    for _ in range(4000):
        values = 6.0 * np.exp(random.normal(0, 0.05, n))
        found = combine(repeats(*values))
        inside += abs(found.value - 6.0) <= found.err
    # Binomial 1-sigma of 4000 trials is 0.74 %; the mean of a log-normal is 0.1 % off.
    assert inside / 4000 == pytest.approx(0.683, abs=0.025)


def test_pooled_scatter_weighs_by_degrees_of_freedom():
    groups = [repeats(1.0, math.e), repeats(1.0, 1.0, 1.0, 1.0)]
    # Variances 0.5 (1 degree) and 0 (3 degrees): 0.125 together.
    assert pooled_scatter(groups) == Scatter(pytest.approx(math.sqrt(0.125)), 4)
    assert pooled_scatter([repeats(3.0)]) is None


def test_few_repeats_take_the_pooled_scatter_and_many_their_own():
    pool = Scatter(0.05, 20)
    lucky = combine(repeats(6.0, 6.0, 6.0), pool)
    assert lucky.err == pytest.approx(1.0258 * 0.05 * 6 / math.sqrt(3), rel=1e-3)
    many = combine(repeats(5.9, 6.0, 6.1, 6.0), pool)
    assert many.err < 0.06
    thin = combine(repeats(5.9, 6.1), Scatter(0.05, 3))
    assert thin.err == combine(repeats(5.9, 6.1)).err


def test_error_is_never_under_the_noise():
    assert combine(repeats(6.0, 6.0, noise=0.2)).err == pytest.approx(0.2 / math.sqrt(2))


def test_all_at_limit_give_the_median_bound():
    found = combine(Repeats(bounds=(3.4, 3.0, 3.1)))
    assert (found.value, found.err, found.at_most) == (None, None, 3.1)


def test_half_at_limit_give_a_bound_above_both():
    found = combine(repeats(3.2, noise=0.1, err=0.1, bounds=(3.1,)))
    assert found.value is None
    assert found.at_most == pytest.approx(3.2 + 1.645 * 0.1, abs=1e-3)


def test_few_at_limit_leave_the_value_with_a_bound():
    found = combine(repeats(3.2, 3.3, 3.4, bounds=(3.1,)))
    assert found.value == pytest.approx(3.3)
    assert found.at_most == pytest.approx(3.3 + 1.645 * found.err, abs=1e-3)


def test_nothing_measured_is_none():
    found = combine(Repeats())
    assert (found.value, found.err, found.at_most, found.values) == (None, None, None, ())


def test_axes_average_across_the_turn():
    assert circular_mean([179.0, 1.0]) == pytest.approx(0.0, abs=1e-9) or circular_mean(
        [179.0, 1.0]
    ) == pytest.approx(180.0, abs=1e-9)
    assert circular_mean([80.0, 100.0]) == pytest.approx(90.0)
