"""The model behind a factor study: ln size = mean + effects + round + frame.

Effects are fixed, rounds a random part: a mixed model, fitted by statsmodels' generalised least
squares under restricted maximum likelihood; with one round it is a linear model. Intervals are
Student's t with the containment rule for degrees of freedom: frames less rounds less effects for
what varied within rounds, rounds less one less effects for what varied only from one round to the
next (Schluchter & Elashoff 1990, J. Statist. Comput. Simul. 37, 69, DOI
10.1080/00949659008811295). How often they hold: design/factor_studies.py.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.special import fdtr, ncfdtr, stdtrit

from nightglass.optics.arrays import Floats, Indices

CONFIDENCE = 0.95
LEAST_FRAMES = 6
"""Fewer leave next to nothing to judge the scatter by."""
LEAST_DOF = 2
"""With one degree of freedom the interval is 13 errors wide and says nothing."""
WITHIN_SHARE = 0.05
"""An influence varied within rounds if this share of its variation lies there."""
APART_SHARE = 0.02
"""Influences of which less than this share of variation is their own only varied together."""
MOST_ROUND_OVER_FRAME = 20.0
"""Rounds that scatter more than that against frames are other set-ups, not rounds."""
_HALVINGS = 60


@dataclass(frozen=True)
class Columns:
    """The columns (frames, k) of one influence: one, or place and square of the focus."""

    name: str
    values: Floats


@dataclass(frozen=True)
class ColumnsFit:
    """Coefficients of one influence with their covariance."""

    coefficients: Floats
    covariance: Floats
    degrees_of_freedom: float
    explained: float
    """Variance of ln size that it explains."""


@dataclass(frozen=True)
class ModelFit:
    """The fitted model: variances of ln size and the coefficients by influence."""

    fits: dict[str, ColumnsFit]
    too_few: dict[str, bool]
    """Influences without a number: True where rounds are missing, False where frames are."""
    round_variance: float | None
    frame_variance: float

    @property
    def total(self) -> float:
        """All variance: of the influences, of rounds, of frames."""
        known = sum(fit.explained for fit in self.fits.values())
        return known + (self.round_variance or 0.0) + self.frame_variance


def only_together(columns: Sequence[Columns]) -> dict[str, tuple[str, ...]]:
    """Return the influences that can't be told apart, each with those it varied with."""
    centred = {one.name: one.values - one.values.mean(axis=0) for one in columns}
    bound = {
        name: _own_share(own, [other for key, other in centred.items() if key != name])
        for name, own in centred.items()
    }
    stuck = [name for name, share in bound.items() if share < APART_SHARE]
    return {name: _partners(name, stuck, centred) for name in stuck}


def fit_model(
    log_sizes: Floats, columns: Sequence[Columns], stuck: Sequence[Columns], rounds: Indices
) -> ModelFit:
    """Return the model of ln sizes (frames,); rounds (frames,) number the rounds from 0.

    stuck: influences that can't be told apart; together they are taken out, without numbers.
    """
    count = int(rounds.max()) + 1 if rounds.size else 0
    nuisance = _basis([one.values for one in stuck])
    within = {one.name: _varies_within(one.values, rounds, count) for one in columns}
    freedom = _freedoms(columns, nuisance, within, rounds, count)
    kept = [one for one in columns if freedom[one.name] >= LEAST_DOF]
    # What has too few rounds still moves the frames: it stays in the model without a number.
    lost = [one.values for one in columns if one not in kept]
    design, places = _design(kept, _basis([*(o.values for o in stuck), *lost]), log_sizes.size)
    random = 1 < count < log_sizes.size and _rounds_are_free(design, rounds, count)
    found = _mixed(log_sizes, design, rounds) if random else _linear(log_sizes, design)
    beta, covariance, round_variance, frame_variance = found
    fits = {}
    for one, place in zip(kept, places, strict=True):
        own = beta[place]
        fits[one.name] = ColumnsFit(
            own, covariance[place, place], freedom[one.name],
            float(np.var(one.values @ own)),
        )  # fmt: skip
    too_few = {one.name: not within[one.name] for one in columns if one not in kept}
    return ModelFit(fits, too_few, round_variance if random else None, frame_variance)


def reach(degrees_of_freedom: float) -> float:
    """Return Student's t that leaves 2.5 % on either side."""
    return float(stdtrit(degrees_of_freedom, (1 + CONFIDENCE) / 2))


def share_interval(fit: ColumnsFit, total: float) -> tuple[float, float, float]:
    """Return the share of the variance that an influence explains, with its 95 % interval.

    The interval is that of the noncentral F distribution whose F the data show, carried over to
    the share (Steiger 2004, Psychological Methods 9, 164, DOI 10.1037/1082-989X.9.2.164).
    """
    k = fit.coefficients.size
    rest = max(total - fit.explained, 1e-300)
    statistic = float(fit.coefficients @ np.linalg.solve(fit.covariance, fit.coefficients)) / k
    ends = [
        _noncentrality(statistic, k, fit.degrees_of_freedom, (1 + side * CONFIDENCE) / 2)
        for side in (1, -1)
    ]
    low, high = (fit.explained * end / (k * statistic) if statistic > 0 else 0.0 for end in ends)
    return fit.explained / (fit.explained + rest), low / (low + rest), high / (high + rest)


def _noncentrality(statistic: float, k: int, dof: float, probability: float) -> float:
    """The noncentrality for which the statistic is that quantile of F; 0 where there is none."""
    if fdtr(k, dof, statistic) <= probability:
        return 0.0
    low, high = 0.0, 4.0 * (k * statistic + 10.0)
    while ncfdtr(k, dof, high, statistic) > probability:
        high *= 2
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        low, high = (
            (middle, high) if ncfdtr(k, dof, middle, statistic) > probability else (low, middle)
        )
    return (low + high) / 2


def _own_share(own: Floats, others: Sequence[Floats]) -> float:
    """The least share of variation of a column that the other influences do not follow."""
    if not others:
        return 1.0
    basis = _basis(others)
    shares = []
    for column in own.T:
        rest = column - basis @ (basis.T @ column)
        shares.append(float(rest @ rest) / float(column @ column))
    return min(shares)


def _partners(name: str, stuck: Sequence[str], centred: dict[str, Floats]) -> tuple[str, ...]:
    """Those without any of which the influence would stand alone; all where several take part."""
    others = [other for other in stuck if other != name]
    alone = [o for o in others if _own_share(centred[name], [centred[o]]) < APART_SHARE]
    return tuple(alone or others)


def _basis(blocks: Sequence[Floats]) -> Floats:
    """Orthonormal columns that span some blocks of columns, means removed."""
    if not blocks:
        return np.zeros((0, 0))
    joined = np.hstack([block - block.mean(axis=0) for block in blocks])
    left, size, _ = np.linalg.svd(joined, full_matrices=False)
    kept: Floats = left[:, size > 1e-9 * max(float(size.max(initial=0.0)), 1e-300)]
    return kept


def _varies_within(values: Floats, rounds: Indices, count: int) -> bool:
    inside = values.astype(np.float64).copy()
    for k in range(count):
        inside[rounds == k] -= values[rounds == k].mean(axis=0)
    total = values - values.mean(axis=0)
    return float((inside**2).sum()) >= WITHIN_SHARE * float((total**2).sum())


def _freedoms(
    columns: Sequence[Columns],
    nuisance: Floats,
    within: dict[str, bool],
    rounds: Indices,
    count: int,
) -> dict[str, float]:
    inner = sum(one.values.shape[1] for one in columns if within[one.name])
    outer = sum(one.values.shape[1] for one in columns if not within[one.name])
    taken = nuisance.shape[1]
    if not 1 < count < rounds.size:
        alone = rounds.size - 1 - inner - outer - taken
        return {one.name: float(alone) for one in columns}
    frames, between = rounds.size - count - inner - taken, count - 1 - outer
    return {one.name: float(frames if within[one.name] else between) for one in columns}


def _design(kept: Sequence[Columns], nuisance: Floats, frames: int) -> tuple[Floats, list[slice]]:
    blocks, places, at = [np.ones((frames, 1))], [], 1
    for one in kept:
        blocks.append(one.values - one.values.mean(axis=0))
        places.append(slice(at, at + one.values.shape[1]))
        at += one.values.shape[1]
    if nuisance.size:
        blocks.append(nuisance)
    return np.hstack(blocks), places


def _rounds_are_free(design: Floats, rounds: Indices, count: int) -> bool:
    """Whether rounds differ in more than what the effects already say of them."""
    each = (rounds[:, None] == np.arange(count)).astype(np.float64)
    both = np.hstack([design, each])
    return bool(np.linalg.matrix_rank(both) > np.linalg.matrix_rank(design))


def _linear(y: Floats, design: Floats) -> tuple[Floats, Floats, float, float]:
    from statsmodels.regression.linear_model import OLS

    fit = OLS(y, design).fit()
    return np.asarray(fit.params), np.asarray(fit.cov_params()), 0.0, float(fit.scale)


def _mixed(y: Floats, design: Floats, rounds: Indices) -> tuple[Floats, Floats, float, float]:
    """Generalised least squares, the rounds' variance over the frames' by restricted likelihood.

    One number is sought on a bounded line: an optimiser over all parameters fails on rounds that
    scatter no more than frames. Frames of a round share one covariance, so that taking a share of
    the round's mean from each leaves them independent, and the library's linear model fits them.
    """
    from scipy.optimize import minimize_scalar
    from statsmodels.regression.linear_model import OLS

    count = np.bincount(rounds)
    both = np.column_stack([y, design])
    means = np.stack([np.bincount(rounds, column) / count for column in both.T], axis=1)

    def fit(ratio: float) -> Any:
        share = 1 - 1 / np.sqrt(1 + count * ratio)
        apart = both - (share[:, None] * means)[rounds]
        return OLS(apart[:, 0], apart[:, 1:]).fit()

    def lost(root: float) -> float:
        found = fit(root**2)
        # Patterson & Thompson 1971, Biometrika 58, 545, DOI 10.1093/biomet/58.3.545.
        inverse = np.asarray(found.normalized_cov_params)
        return float(
            (y.size - design.shape[1]) * np.log(max(float(found.scale), 1e-300))
            + np.log(1 + count * root**2).sum()
            - np.linalg.slogdet(inverse)[1]
        )

    best = minimize_scalar(lost, bounds=(0.0, MOST_ROUND_OVER_FRAME), method="bounded")
    ratio = float(best.x) ** 2 if lost(float(best.x)) < lost(0.0) else 0.0
    found = fit(ratio)
    frame = float(found.scale)
    return np.asarray(found.params), np.asarray(found.cov_params()), ratio * frame, frame
