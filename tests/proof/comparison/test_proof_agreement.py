"""The order of settings on bench and sky: rank correlation, its interval, and pairs."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import kendalltau, studentized_range, t

from nightglass.proof.comparison.agreement import (
    LogSize,
    agreed_without,
    odd_ones,
    pair_states,
    rank_agreement,
)

ERR = 0.02


def sizes(values, err=0.0, freedom=math.inf):
    return [LogSize(float(v), err, freedom) for v in values]


def test_tau_is_that_of_a_general_library_and_certain_orders_have_no_spread():
    bench, sky = np.random.default_rng(8).normal(size=(2, 9))
    tau = rank_agreement(sizes(bench), sizes(sky))
    # scipy.stats.kendalltau; without ties its tau-b is tau.
    assert tau.value == pytest.approx(kendalltau(bench, sky).statistic)
    assert tau.low == pytest.approx(tau.value)
    assert tau.high == pytest.approx(tau.value)


def test_tau_of_a_published_worked_example():
    # Hollander & Wolfe 1973, p. 187f.: measured lightness and panel score of nine lots of canned
    # tuna, as the manual of R's cor.test prints them; 26 of 36 pairs agree, tau = 16 / 36 (the
    # count is checked here).
    lightness = (44.4, 45.9, 41.9, 53.3, 44.7, 44.1, 50.7, 45.2, 60.1)
    score = (2.6, 3.1, 2.5, 5.0, 3.6, 4.0, 5.2, 2.8, 3.8)
    states = list(pair_states(sizes(lightness), sizes(score)).values())
    assert (states.count("held"), states.count("against"), states.count("open")) == (26, 10, 0)
    assert rank_agreement(sizes(lightness), sizes(score)).value == pytest.approx(16 / 36)


def test_ties_count_as_neither():
    # tau-a of (1, 2, 3) and (1, 1, 2) by hand: two pairs agree, one is a tie; tau-b divides by
    # the root of 3 x 2 instead: scipy.stats.kendalltau.
    tau = rank_agreement(sizes((1, 2, 3)), sizes((1, 1, 2)))
    assert tau.value == pytest.approx(2 / 3)
    assert tau.value * 3 / math.sqrt(6) == pytest.approx(kendalltau((1, 2, 3), (1, 1, 2)).statistic)
    assert (tau.low, tau.high) == pytest.approx((1 / 3, 1.0))


@pytest.mark.parametrize(("freedom", "count"), [(math.inf, 3), (8.0, 3), (8.0, 6)])
def test_pairs_are_decided_beyond_the_range_of_all_settings_together(freedom, count):
    # scipy.stats.studentized_range, Kramer's form for two means: q / root 2 times the error of
    # the difference. Equal degrees of freedom are one shared pool: they are not added.
    many = 10000 if math.isinf(freedom) else freedom
    edge = float(studentized_range.ppf(0.95, count, many)) / math.sqrt(2) * ERR * math.sqrt(2)
    for factor, state in ((0.99, "open"), (1.01, "held")):
        values = [0.0, factor * edge, *(10.0 * k for k in range(1, count - 1))]
        pairs = pair_states(sizes(values, ERR, freedom), sizes(values))
        assert pairs[0, 1] == state


def test_two_settings_need_no_more_than_student_s_t():
    # scipy.stats.t; six degrees of freedom of one pool.
    edge = float(t.ppf(0.975, 6)) * ERR * math.sqrt(2)
    for factor, state in ((0.99, "open"), (1.01, "against")):
        pairs = pair_states(sizes((0.0, factor * edge), ERR, 6.0), sizes((1.0, 0.0)))
        assert pairs[0, 1] == state


def test_wide_errors_leave_pairs_open_and_the_interval_lets_them_fall_either_way():
    bench = sizes((0.0, 1.0, 2.0), 0.01)
    sky = [LogSize(0.0, 0.01), LogSize(1.0, 2.0), LogSize(3.0, 0.01)]
    assert pair_states(bench, sky) == {(0, 1): "open", (0, 2): "held", (1, 2): "open"}
    tau = rank_agreement(bench, sky)
    # One pair held of three, two undecided: (1 - 2) / 3 to (1 + 2) / 3.
    assert (tau.value, tau.low, tau.high) == pytest.approx((1.0, -1 / 3, 1.0))


@given(
    st.lists(
        st.tuples(st.floats(-2, 2), st.floats(-2, 2), st.floats(0, 1), st.floats(0, 1)),
        min_size=3,
        max_size=7,
    )
)
def test_the_interval_always_holds_its_value(rows):
    bench = [LogSize(b, e) for b, _, e, _ in rows]
    sky = [LogSize(s, e) for _, s, _, e in rows]
    tau = rank_agreement(bench, sky)
    assert -1 <= tau.low <= tau.value + 1e-12
    assert tau.value - 1e-12 <= tau.high <= 1


def test_close_settings_keep_the_true_tau_in_the_interval():
    # Five settings a hundredth of an error apart, in the same order on both: what drawing the
    # sizes again within their errors misses (design/proof_order.py).
    rng = np.random.default_rng(4)
    true = 1e-4 * np.arange(5)
    hit = 0
    for _ in range(200):
        bench, sky = true + rng.normal(0, ERR, (2, 5))
        tau = rank_agreement(sizes(bench, ERR), sizes(sky, ERR))
        hit += tau.low <= 1.0 <= tau.high
    assert hit >= 190


def test_lists_must_pair_and_two_settings_have_no_order():
    with pytest.raises(ValueError, match=r"3 sizes on the bench, 2 on the sky: they must pair"):
        rank_agreement(sizes((1, 2, 3)), sizes((1, 2)))
    assert rank_agreement(sizes((1, 2)), sizes((1, 2))) is None


def test_the_most_contradicted_settings_are_the_odd_ones_and_single_pairs_stay_pairs():
    assert odd_ones([(0, 1), (0, 2), (3, 4)]) == ((0,), ((3, 4),))
    # All three of a reversed list contradict each other alike.
    assert odd_ones([(0, 1), (0, 2), (1, 2)]) == ((0, 1, 2), ())
    assert odd_ones([]) == ((), ())


@given(st.sets(st.tuples(st.integers(0, 5), st.integers(0, 5)).filter(lambda p: p[0] < p[1])))
def test_names_of_settings_decide_nothing(against):
    # The list the other way round: the same settings and pairs are odd.
    odd, pairs = odd_ones(sorted(against))
    turned, others = odd_ones(sorted((5 - b, 5 - a) for a, b in against))
    assert {5 - k for k in turned} == set(odd)
    assert {(5 - b, 5 - a) for a, b in others} == set(pairs)


def test_one_contradicted_pair_holds_but_for_it_only_if_either_may_be_left_out():
    assert agreed_without([(0, 2), (1, 2)], (), [(0, 1)])
    # Without setting 0 nothing would hold any more.
    assert not agreed_without([(0, 2)], (), [(0, 1)])
    assert not agreed_without([(1, 2)], (2,), [])
