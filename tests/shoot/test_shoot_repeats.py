"""Repeats: what they tell apart, against tables and simulated sessions."""

import math

import numpy as np
import pytest
from scipy import stats

from nightglass.bench.combined.combine import Scatter
from nightglass.gear.benchfile import SessionChoice
from nightglass.shoot.codes import ScatterSource
from nightglass.shoot.repeats_needed import (
    counts_from_percent,
    finds_percent,
    found_share,
    precision_of,
    repeats_needed,
)


def test_means_of_five_repeats():
    # Trade values: 5 repeats that scatter by 5 % tell means apart from about 7 %, 10 % from 15 %.
    # Student's t(8) = 2.306 (tables) x s x sqrt(2 / 5), as a ratio.
    assert 100 * math.log1p(counts_from_percent(5, 0.05) / 100) == pytest.approx(7.29, abs=0.01)
    assert counts_from_percent(5, 0.10) == pytest.approx(15.7, abs=0.1)
    assert counts_from_percent(1, 0.05) == math.inf


@pytest.mark.parametrize(("repeats", "log_ratio", "scatter"),
                         [(3, 0.13, 0.05), (6, 0.0953, 0.05), (12, 0.0953, 0.1)])  # fmt: skip
def test_share_that_is_found_in_simulated_sessions(repeats, log_ratio, scatter):
    rng = np.random.default_rng(20270101)
    one = rng.normal(0, scatter, (20_000, repeats))
    other = rng.normal(log_ratio, scatter, (20_000, repeats))
    found = (stats.ttest_ind(one, other, axis=1).pvalue < 0.05).mean()
    # 20,000 sessions: 1 sigma 0.35 %.
    assert found_share(repeats, log_ratio, scatter) == pytest.approx(found, abs=0.011)


def test_share_against_the_noncentral_t_of_a_library():
    # scipy.stats.nct, another way to the same number.
    dof, quantile = 10, stats.t.ppf(0.975, 10)
    for shift in (0.5, 2.0, 3.3):
        share = stats.nct.sf(quantile, dof, shift) + stats.nct.cdf(-quantile, dof, shift)
        log_ratio = shift * 0.05 * math.sqrt(2 / 6)
        assert found_share(6, log_ratio, 0.05) == pytest.approx(share, abs=2e-3)


def test_no_difference_is_found_by_chance_in_five_percent():
    assert found_share(5, 0.0, 0.05) == pytest.approx(0.05, abs=1e-3)
    assert found_share(1, 1.0, 0.05) == 0.0
    assert found_share(2, 3.0, 0.01) == pytest.approx(1.0)


def test_repeats_that_are_needed_are_just_enough():
    needed = repeats_needed(10, 0.05)
    assert needed == 6
    assert found_share(needed, math.log(1.1), 0.05) >= 0.8 > found_share(5, math.log(1.1), 0.05)
    assert finds_percent(needed, 0.05) <= 10 < finds_percent(needed - 1, 0.05)
    assert repeats_needed(50, 0.01) == 3
    assert repeats_needed(2, 0.1) is None
    assert finds_percent(2, 2.0) is None


def test_scatter_that_is_stated_wins_then_the_record_then_a_guess():
    known = Scatter(0.08, 20)
    stated = precision_of(SessionChoice(scatter_percent=3), known)
    assert (stated.scatter_source, stated.scatter_percent) == (ScatterSource.STATED, 3)
    record = precision_of(SessionChoice(), known)
    assert (record.scatter_source, record.scatter_dof) == (ScatterSource.RECORD, 20)
    assert record.scatter_percent == pytest.approx(8)
    guess = precision_of(SessionChoice(), None)
    assert (guess.scatter_source, guess.scatter_percent) == (ScatterSource.GUESS, 5)
    assert precision_of(SessionChoice(repeats=4), None).repeats == 4
    assert precision_of(SessionChoice(tell_percent=0.5), None).repeats == 30
