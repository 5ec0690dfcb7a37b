"""Scatter and intervals, against tables and a general statistics library."""

import math

import numpy as np
import pytest
from scipy import stats

from nightglass.bench.combined.combine import Repeats, pooled_scatter
from nightglass.verdict.certainty.gain import gain_interval, gain_percent
from nightglass.verdict.certainty.spread import (
    LogInterval,
    ZoneSpread,
    chosen_quantile,
    difference_interval,
    log_variance,
    satterthwaite,
    t_quantile,
)


def pooled(groups):
    return pooled_scatter([Repeats(tuple(group)) for group in groups])


def zone(err=0.02, freedom=10.0, power=-1.0, repeats=()):
    return ZoneSpread("centre", {"stars": power}, err, freedom, 0.2, 0.01, repeats)


@pytest.mark.parametrize(
    ("freedom", "table"),
    # Student's t, 2.5 % on either side: table of the NIST/SEMATECH e-Handbook of Statistical
    # Methods, as a public copy prints it.
    [(1, 12.706), (4, 2.776), (10, 2.228), (30, 2.042), (math.inf, 1.960)],
)
def test_students_t_as_tabulated(freedom, table):
    assert t_quantile(freedom) == pytest.approx(table, abs=6e-4)


@pytest.mark.parametrize(
    ("compared", "freedom", "table"),
    # Upper 5 % points of the studentised range: table 3 of Harter 1960, Ann. Math. Stat. 31, 1122,
    # as the tests of scipy list it.
    [
        (8, 3, 8.853),
        (8, 10, 5.305),
        (14, 10, 6.028),
        (20, 20, 5.714),
        (8, 120, 4.363),
        (8, math.inf, 4.286),
        (14, math.inf, 4.743),
    ],
)
def test_studentised_range_as_tabulated(compared, freedom, table):
    assert chosen_quantile(compared, freedom) * math.sqrt(2) == pytest.approx(table, abs=1.5e-3)


@pytest.mark.parametrize("freedom", [3, 12, 60, math.inf])
def test_choosing_widens_and_for_two_is_students_t(freedom):
    widths = [chosen_quantile(k, freedom) for k in (2, 3, 5, 9)]
    assert widths[0] == t_quantile(freedom)
    assert widths == sorted(set(widths))


def test_interval_of_a_pair_equals_a_two_sample_t_test():
    # One zone, power 1: the score is the noise area itself. The pooled two-sample interval of a
    # general statistics library on the logs must come out.
    a, b = [4.0, 4.4, 4.2, 3.9], [3.0, 3.1, 3.3, 3.2]
    scatter = pooled([a, b])
    spread = scatter.deviation / 2, scatter.dof
    found = difference_interval([zone(*spread)], [zone(*spread)], {"stars": 1.0})
    other = stats.ttest_ind(np.log(a), np.log(b)).confidence_interval(0.95)
    assert found.high - found.low == pytest.approx(other.high - other.low, rel=1e-9)


def test_interval_among_three_equals_tukeys_test():
    groups = [[4.0, 4.4, 4.2], [3.0, 3.1, 3.3], [5.0, 5.6, 5.1]]
    scatter = pooled(groups)
    spread = scatter.deviation / math.sqrt(3), scatter.dof
    found = difference_interval([zone(*spread)], [zone(*spread)], {"stars": 1.0}, compared=3)
    other = stats.tukey_hsd(*[np.log(g) for g in groups]).confidence_interval(0.95)
    assert found.high == pytest.approx((other.high[0, 1] - other.low[0, 1]) / 2, rel=1e-3)


def test_pooled_scatter_by_hand():
    # Logs 0, 2 about 1: squares 2 with 1 degree of freedom; logs 0, 0, 3 about 1: 6 with 2.
    scatter = pooled([[1.0, math.e**2], [1.0, 1.0, math.e**3], [7.0]])
    assert scatter.deviation == pytest.approx(math.sqrt(8 / 3))
    assert scatter.dof == 3


def test_scaling_all_repeats_leaves_their_relative_scatter():
    groups = [[4.0, 4.4, 4.2], [3.0, 3.1]]
    scaled = [[37.5 * v for v in group] for group in groups]
    assert pooled(scaled).deviation == pytest.approx(pooled(groups).deviation)


def test_single_frames_have_no_scatter():
    assert pooled([[4.0], [3.0], []]) is None


def test_zones_that_share_a_pool_share_its_degrees_of_freedom():
    variance, freedom = log_variance([zone(0.03, 12), zone(0.04, 12)], {"stars": 1.0})
    assert variance == pytest.approx(0.05**2)
    assert freedom == pytest.approx(12)


def test_satterthwaite_by_hand():
    # Equal variances with 4 and 8: (2)^2 / (1/4 + 1/8) = 10.667.
    assert satterthwaite([(1, 4), (1, 8)]) == pytest.approx((2, 4 / 0.375))


def test_unknown_scatter_gives_no_interval():
    assert difference_interval([zone(math.nan)], [zone()], {"stars": 0.5}) is None
    assert gain_interval(75, 50, None).low is None


def test_weight_scales_the_interval():
    half = difference_interval([zone()], [zone()], {"stars": 0.5})
    full = difference_interval([zone()], [zone()], {"stars": 1.0})
    assert full.high == pytest.approx(2 * half.high)


def test_resampling_needs_eight_repeats_and_agrees_with_t_for_even_scatter():
    rng = np.random.default_rng(5)
    values = rng.normal(0, 0.04, 40)
    values -= values.mean()
    err = float(np.std(values, ddof=1)) / math.sqrt(40)
    many = [zone(err, 78.0, repeats=tuple(values))]
    resampled = difference_interval(many, many, {"stars": 1.0})
    plain = difference_interval([zone(err, 78.0)], [zone(err, 78.0)], {"stars": 1.0})
    assert resampled != plain
    # 4,000 draws fix a 2.5 % tail to about 4 %; t with 78 degrees of freedom is 1.6 % over normal.
    assert resampled.high == pytest.approx(plain.high, rel=0.12)
    seven = [zone(err, 78.0, repeats=tuple(values[:7]))]
    assert difference_interval(seven, seven, {"stars": 1.0}) == plain


def test_gain_is_signed_and_named_both_ways():
    assert gain_percent(75, 50) == pytest.approx(50)
    assert gain_percent(50, 75) == pytest.approx(-100 / 3)


def test_gain_interval_both_ways_is_the_same_statement():
    spread = LogInterval(-0.1, 0.2)
    up = gain_interval(75, 50, spread)
    down = gain_interval(50, 75, LogInterval(-0.2, 0.1))
    assert (1 + up.low / 100) * (1 + down.high / 100) == pytest.approx(1)
    assert (1 + up.high / 100) * (1 + down.low / 100) == pytest.approx(1)


@pytest.mark.parametrize(("a", "b"), [(1, 0), (-1, 2), (1, math.nan)])
def test_gain_without_meaning_is_refused(a, b):
    with pytest.raises(ValueError, match="A must be 0 or more, B above 0"):
        gain_percent(a, b)


def test_fewer_than_two_or_no_freedom_is_refused():
    with pytest.raises(ValueError, match="1 settings can't be compared; it takes 2 or more"):
        chosen_quantile(1, 5)
    with pytest.raises(ValueError, match="two repeats give 1, one gives none"):
        t_quantile(0)
