"""The model of a factor study: planted effects, a second fit by the library's own mixed model,
handbook values, what can't be told."""

import warnings

import numpy as np
import pytest

from nightglass.bench.factors.model import (
    Columns,
    ColumnsFit,
    fit_model,
    only_together,
    reach,
    share_interval,
)

ROUNDS = np.repeat(np.arange(5), 8)
EXPOSURE = np.tile(np.repeat(np.arange(-2.0, 2.0), 2), 5)
ISO = np.tile([0.0, 1.0], 20)


def frames(seed, exposure=0.0, iso=0.0, round_sd=0.04, frame_sd=0.02):
    rng = np.random.default_rng(seed)
    y = rng.normal(0, round_sd, 5)[ROUNDS] + rng.normal(0, frame_sd, 40)
    return y + exposure * EXPOSURE + iso * ISO


def columns(**values):
    return [Columns(name, np.asarray(v, dtype=float)[:, None]) for name, v in values.items()]


def test_fit_agrees_with_the_mixed_model_of_the_library():
    from statsmodels.regression.mixed_linear_model import MixedLM

    y = frames(3, exposure=0.02, iso=-0.01)
    found = fit_model(y, columns(exposure=EXPOSURE, iso=ISO), (), ROUNDS)
    design = np.column_stack([np.ones(40), EXPOSURE, ISO])
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        theirs = MixedLM(y * 100, design, groups=ROUNDS).fit(reml=True)
    for k, name in enumerate(("exposure", "iso"), 1):
        fit = found.fits[name]
        assert fit.coefficients[0] * 100 == pytest.approx(theirs.fe_params[k], abs=1e-4)
        assert np.sqrt(fit.covariance[0, 0]) * 100 == pytest.approx(theirs.bse_fe[k], rel=1e-3)
    assert found.round_variance * 1e4 == pytest.approx(theirs.cov_re[0, 0], rel=0.01)
    assert found.frame_variance * 1e4 == pytest.approx(theirs.scale, rel=0.01)
    # Containment: 40 frames less 5 rounds less 2 effects.
    assert found.fits["iso"].degrees_of_freedom == 33


def test_what_changed_from_round_to_round_rests_on_rounds_alone():
    distance = np.array([-1.0, 0.5, 0.0, 1.0, -0.5])[ROUNDS]
    found = fit_model(frames(4), columns(exposure=EXPOSURE, distance=distance), (), ROUNDS)
    assert found.fits["distance"].degrees_of_freedom == 3
    assert found.fits["distance"].covariance[0, 0] > 20 * found.fits["exposure"].covariance[0, 0]


def test_too_few_rounds_give_no_number_and_leave_the_others_theirs():
    two = np.repeat([0, 1], 20)
    distance = two.astype(float)
    y = frames(5, exposure=0.03) + 0.5 * distance
    found = fit_model(y, columns(exposure=EXPOSURE, distance=distance), (), two)
    assert found.too_few == {"distance": True}
    assert found.fits["exposure"].coefficients[0] == pytest.approx(0.03, abs=0.01)


def test_conditions_that_only_varied_together_are_named():
    found = only_together(
        columns(
            exposure=EXPOSURE, iso=-2 * EXPOSURE + 3, source=ISO, distance=np.tile([1, 0, 0, 1], 10)
        )
    )
    assert found == {"exposure": ("iso",), "iso": ("exposure",)}
    three = only_together(columns(a=EXPOSURE, b=ISO, c=EXPOSURE + ISO))
    assert set(three) == {"a", "b", "c"}
    assert three["a"] == ("b", "c")


def test_those_that_stick_together_are_taken_out_of_the_rest():
    y = frames(6, iso=0.05) + 0.2 * EXPOSURE
    stuck = columns(exposure=EXPOSURE, distance=-EXPOSURE)
    found = fit_model(y, columns(iso=ISO), stuck, ROUNDS)
    assert set(found.fits) == {"iso"}
    assert found.fits["iso"].coefficients[0] == pytest.approx(0.05, abs=0.02)
    assert found.frame_variance < 0.03**2


def test_interval_of_a_share_is_that_of_the_noncentral_f():
    # F(1, 30) = 25: the ends are the noncentralities for which 25 is the 97.5 % and the 2.5 % point
    # of the distribution (scipy.stats.ncf, another code than ours).
    from scipy.stats import ncf

    fit = ColumnsFit(np.array([0.05]), np.array([[1e-4]]), 30.0, 0.25)
    share, low, high = share_interval(fit, 1.0)
    assert share == pytest.approx(0.25)
    for end, point in ((low, 0.975), (high, 0.025)):
        noncentrality = 25 * (end / (1 - end)) / (0.25 / 0.75)
        assert ncf.cdf(25.0, 1, 30, noncentrality) == pytest.approx(point, abs=1e-4)
    nothing = ColumnsFit(np.array([0.005]), np.array([[1e-4]]), 30.0, 0.01)
    assert share_interval(nothing, 1.0)[1] == 0.0


def test_reach_is_students_t_of_the_tables():
    # Two-sided 95 %: any handbook.
    assert [round(reach(dof), 3) for dof in (2, 5, 30)] == [4.303, 2.571, 2.042]


def test_intervals_hold_over_simulated_studies():
    """A short run of design/factor_studies.py: 200 studies; the script holds 2,000."""
    held = []
    for seed in range(200):
        fit = fit_model(
            frames(seed, exposure=0.01), columns(exposure=EXPOSURE, iso=ISO), (), ROUNDS
        ).fits["exposure"]
        half = reach(fit.degrees_of_freedom) * np.sqrt(fit.covariance[0, 0])
        held.append(abs(fit.coefficients[0] - 0.01) <= half)
    # 95 % of 200, three standard deviations of a binomial.
    assert 0.90 <= np.mean(held) <= 0.99
