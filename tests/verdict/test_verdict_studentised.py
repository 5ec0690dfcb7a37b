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


# Upper 5 % points for 2 to 20 means, as textbooks reprint them to four figures or two decimals from
# Harter 1960, Annals of Mathematical Statistics 31, 1122 (the same as Pearson & Hartley, Biometrika
# Tables for Statisticians vol. 1, table 29), taken from several reprints that agree. Some entries
# are a unit of the last digit off (6 means, 2 degrees: 11.734 here and in SciPy, 11.74 in print).
PRINTED = {
    1: "17.97 26.98 32.82 37.08 40.41 43.12 45.40 47.36 49.07 50.59 51.96 53.20 54.33 55.36 56.32 "
    "57.22 58.04 58.83 59.56",
    2: "6.085 8.331 9.798 10.88 11.74 12.44 13.03 13.54 13.99 14.39 14.75 15.08 15.38 15.65 15.91 "
    "16.14 16.37 16.57 16.77",
    3: "4.50 5.91 6.82 7.50 8.04 8.48 8.85 9.18 9.46 9.72 9.95 10.15 10.35 10.52 10.69 10.84 10.98 "
    "11.11 11.24",
    5: "3.64 4.60 5.22 5.67 6.03 6.33 6.58 6.80 6.99 7.17 7.32 7.47 7.60 7.72 7.83 7.93 8.03 8.12 "
    "8.21",
    10: "3.15 3.88 4.33 4.65 4.91 5.12 5.30 5.46 5.60 5.72 5.83 5.93 6.03 6.11 6.19 6.27 6.34 6.40 "
    "6.47",
    60: "2.83 3.40 3.74 3.98 4.16 4.31 4.44 4.55 4.65 4.73 4.81 4.88 4.94 5.00 5.06 5.11 5.15 5.20 "
    "5.24",
}


@pytest.mark.parametrize("freedom", PRINTED)
def test_quantiles_as_printed(freedom):
    for compared, printed in enumerate(PRINTED[freedom].split(), start=2):
        last_digit = 10.0 ** -len(printed.partition(".")[2])
        found = range_quantile(0.95, compared, freedom)
        assert found == pytest.approx(float(printed), abs=1.01 * last_digit), compared


def test_upper_one_percent_points_at_one_degree_of_freedom_as_printed():
    # Same source, 2 to 10 means; the last digit of some is off by one as above.
    printed = [90.03, 135.0, 164.3, 185.6, 202.2, 215.8, 227.2, 237.0, 245.6]
    found = [range_quantile(0.99, k, 1) for k in range(2, 11)]
    assert found == pytest.approx(printed, abs=0.101)


@pytest.mark.parametrize("probability", [0.5, 0.9, 0.95, 0.999])
@pytest.mark.parametrize("freedom", [1, 1.5, 2, 7, 60, 1e5])
def test_two_means_are_students_t(probability, freedom):
    # The range of two is root 2 times the absolute difference over its error.
    there = math.sqrt(2) * stats.t.ppf((1 + probability) / 2, freedom)
    assert range_quantile(probability, 2, freedom) == pytest.approx(there, rel=1e-6)


@pytest.mark.parametrize(
    ("compared", "freedom"),
    [(2, 1), (3, 1), (10, 1), (20, 1), (3, 2), (5, 10), (20, 16), (50, 200), (5, 9999)],
)
def test_quantiles_agree_with_scipy(compared, freedom):
    there = stats.studentized_range.ppf(0.95, compared, freedom)
    assert range_quantile(0.95, compared, freedom) == pytest.approx(there, rel=1e-6)


def test_known_scatter_is_the_limit_of_many_degrees_of_freedom():
    assert range_quantile(0.95, 4, math.inf) == pytest.approx(
        range_quantile(0.95, 4, 1e4), rel=1e-3
    )


def test_bad_input_is_refused():
    with pytest.raises(ValueError, match=r"probability is 1\.5; allowed: 0\.5 to 0\.999"):
        range_quantile(1.5, 3, 5)
    with pytest.raises(ValueError, match="1 means have no range"):
        range_quantile(0.95, 1, 5)
    with pytest.raises(ValueError, match=r"degrees_of_freedom is 0\.5; it takes 1 or more"):
        range_quantile(0.95, 3, 0.5)
