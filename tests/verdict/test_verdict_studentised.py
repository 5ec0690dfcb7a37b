"""The studentised range against printed values and a general statistics library."""

import math

import pytest
from scipy import stats

from nightglass.verdict.certainty.studentised import range_probability, range_quantile


def test_probabilities_as_printed():
    # ptukey(q, nmeans = 7, df = 5) for q = 2, 4, 6, 8 as printed in a tutorial on R's function
    # (geeksforgeeks.org, 2020); another implementation, from Copenhaver & Holland 1988.
    printed = [0.22099429, 0.76823006, 0.93871676, 0.98063547]
    assert [range_probability(q, 7, 5) for q in (2, 4, 6, 8)] == pytest.approx(printed, abs=2e-6)


@pytest.mark.parametrize(
    ("compared", "freedom"), [(2, 1), (3, 2), (5, 10), (20, 16), (50, 200), (5, 9999)]
)
def test_quantiles_agree_with_scipy(compared, freedom):
    there = stats.studentized_range.ppf(0.95, compared, freedom)
    assert range_quantile(0.95, compared, freedom) == pytest.approx(there, rel=1e-4)


def test_known_scatter_is_the_limit_of_many_degrees_of_freedom():
    assert range_quantile(0.95, 4, math.inf) == pytest.approx(
        range_quantile(0.95, 4, 1e4), rel=1e-3
    )


def test_two_means_are_students_t():
    # The range of two is root 2 times the absolute difference over its error.
    assert range_quantile(0.95, 2, 7) == pytest.approx(math.sqrt(2) * stats.t.ppf(0.975, 7))


def test_bad_input_is_refused():
    with pytest.raises(ValueError, match=r"probability is 1\.5; allowed: 0\.5 to 0\.999"):
        range_quantile(1.5, 3, 5)
    with pytest.raises(ValueError, match="1 means have no range"):
        range_quantile(0.95, 1, 5)
    with pytest.raises(ValueError, match=r"degrees_of_freedom is 0\.5; it takes 1 or more"):
        range_quantile(0.95, 3, 0.5)
