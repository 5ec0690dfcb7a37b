"""Errors that settings share through drift and sessions: what falls out of a comparison."""

import math

import numpy as np
import pytest

from nightglass.bench.records import SharedError
from nightglass.bench.sessions.records import Change, SessionOnRecord
from nightglass.verdict.certainty.parts import not_tested, scatter_parts
from nightglass.verdict.certainty.repeats import length_log_err, pool_repeats
from nightglass.verdict.certainty.spread import (
    ZoneSpread,
    difference_interval,
    shared_variance,
    t_quantile,
)
from nightglass.verdict.codes import NotTested

WEIGHTS = {"stars": 1.0}


def zone(*area, visit=0.0, err=0.03, dof=20.0, shared_dof=8.0, power=-0.5):
    shared = SharedError(tuple(v / 2 for v in area), area, shared_dof, visit / 2, visit)
    return ZoneSpread(
        "centre", {"stars": power}, err, dof, 0.5, err / 2, shared=shared if area else None
    )


def test_what_both_settings_share_falls_out_of_their_difference():
    alike = difference_interval([zone(0.1, 0.02)], [zone(0.1, 0.02)], WEIGHTS)
    plain = difference_interval([zone()], [zone()], WEIGHTS)
    assert alike == plain


def test_what_they_do_not_share_widens_the_interval_by_its_own_t():
    found = difference_interval([zone(0.04, 0.0)], [zone(0.0, 0.03)], WEIGHTS)
    # Powers of -0.5: 0.02 and 0.015, in quadrature 0.025; repeats 2 x (0.5 x 0.03)^2 = 4.5e-4,
    # together 1.075e-3; degrees of freedom by Satterthwaite (20 and 8).
    total = 4.5e-4 + 6.25e-4
    freedom = total**2 / (4.5e-4**2 / 20 + 6.25e-4**2 / 8)
    assert found.high == pytest.approx(t_quantile(freedom) * math.sqrt(total), rel=1e-6)
    assert found.low == -found.high


def test_scatter_of_visits_is_each_settings_own_and_moves_its_places_alike():
    two_places = [zone(0.0, visit=0.02), zone(0.0, visit=0.02)]
    variance, dof = shared_variance(two_places, [zone(0.0, visit=0.02)], WEIGHTS)
    assert variance == pytest.approx((2 * 0.01) ** 2 + 0.01**2)
    assert dof == 8.0


def test_a_bench_without_ties_is_judged_as_before():
    assert shared_variance([zone()], [zone()], WEIGHTS) == (0.0, math.inf)
    assert zone().length_error == (0.015, 20.0)


def test_the_error_of_a_length_by_itself_holds_drift_and_visits():
    err, freedom = zone(0.06, 0.08, visit=0.05).length_error
    assert err == pytest.approx(math.sqrt(0.015**2 + 0.05**2 + 0.025**2))
    assert 8 < freedom < 12


def test_the_proof_reads_the_same_error_of_a_length(build):
    from dataclasses import replace

    result = build.setting(build.wren)
    own = result.zones[0]
    plain = length_log_err(own, build.wren.name, pool_repeats([result]))
    shared = replace(own, shared=SharedError((0.03, 0.04), (0.06, 0.08), 8.0))
    assert length_log_err(shared, build.wren.name, pool_repeats([result]))[0] == pytest.approx(
        math.hypot(plain[0], 0.05)
    )


def test_the_order_frequency_draws_shared_errors_once_for_all(build, bench):
    from dataclasses import replace

    from nightglass.verdict.judge import judge

    one, other = build.setting(build.wren), build.setting(build.heron, lengths_px=(5.6, 5.7, 5.5))

    def with_shared(result, *area):
        error = SharedError(tuple(v / 2 for v in area), area, 30.0)
        return replace(result, zones=tuple(replace(z, shared=error) for z in result.zones))

    plain = judge([one, other], bench).order_frequency
    alike = judge([with_shared(one, 0.8), with_shared(other, 0.8)], bench).order_frequency
    apart = judge([with_shared(one, 0.8), with_shared(other, 0.0)], bench).order_frequency
    least = [min(share for _, share in held.first_shares) for held in (plain, alike, apart)]
    assert abs(least[1] - least[0]) < 0.05
    assert least[2] > least[0] + 0.02


def session(name, drift=None, offset=None, tied=True, metres=(), visit=None, photons=0.5):
    return SessionOnRecord(
        name, 9, 3.0, tuple(metres), (), drift, offset, "a" if offset else None, tied, photons,
        visit,
    )  # fmt: skip


def test_components_of_scatter_are_named_and_copies_never_known(build):
    sessions = (
        session("a", drift=Change(2.0, 0.8, True), photons=0.4),
        session("b", drift=Change(0.1, 1.1, False), offset=Change(3.0, 1.4, True), photons=0.6),
    )
    parts = scatter_parts([build.setting(build.wren)], sessions)
    assert (parts.drift_err_percent, parts.session_err_percent) == (1.1, 1.4)
    assert (parts.photon_percent, parts.visit_percent, parts.copy_percent) == (0.6, None, None)
    # Lengths 5.0, 5.1, 4.9 at three places: 2.0 % of the logarithm.
    assert parts.repeat_percent == pytest.approx(100 * np.std(np.log([5, 5.1, 4.9]), ddof=1))
    assert parts.repeat_degrees_of_freedom == 6


def test_what_no_frame_tells_is_listed():
    alone = not_tested([session("a")])
    assert alone == (
        NotTested.OTHER_COPIES, NotTested.OTHER_DISTANCES, NotTested.OTHER_SESSIONS,
        NotTested.DRIFT,
    )  # fmt: skip
    drift = Change(0.0, 1.0, False)
    two = not_tested([session("a", drift, metres=[8]), session("b", drift, metres=[12])])
    assert two == (NotTested.OTHER_COPIES,)
    untied = not_tested([session("a", drift), session("b", drift, tied=False)])
    assert NotTested.SESSIONS_NOT_TIED in untied
    assert not_tested([]) == ()
