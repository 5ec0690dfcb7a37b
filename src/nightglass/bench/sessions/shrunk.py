"""Drift, offsets and the scatter of visits, weighed against what such benches usually do.

Three visits of a reference hardly tell drift from the scatter of visits, and either from nothing.
So both get a distribution beforehand, and what comes back is the mean over all that the frames
leave possible (Bayes; half a Student's t for a variance component after Gelman 2006, Bayesian
Analysis 1, 515, DOI 10.1214/06-BA117A). Offsets of sessions are left open. How often intervals hold
and how wide they are: design/session_ties.py, from which VISIT_SCALE and DRIFTS come.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from nightglass.optics.arrays import Floats, Indices

VISIT_SCALE = 0.22
"""Scatter of visits over that of repeats: the scale of half a Student's t of 3 degrees of
freedom. Less, and intervals hold too seldom; more, and they are too wide where visits are alike."""
DRIFTS = (0.005, 0.02, 0.08, 0.3)
"""Change of ln size over a session, 1 sigma: each as likely as the others."""
RATIOS = (0.0, *np.geomspace(0.03, 400.0, 14).tolist())
"""Variances of visits over that of repeats that are tried."""
OPEN = 1e-9
"""Inverse variance of what is left open."""


@dataclass(frozen=True)
class Visits:
    """Frames gathered by visit."""

    means: Floats
    """(visits,): of ln size."""
    rows: Floats
    """(visits, parameters): means of what each parameter counts."""
    frames: Floats
    """(visits,)"""
    cells: Indices
    """(visits,): number of the setting at its place."""


@dataclass(frozen=True)
class Shrunk:
    """What visits leave possible: mean and covariance of the parameters, scatter of visits."""

    terms: Floats
    covariance: Floats
    visit_variance: float
    """Of one visit beyond its repeats."""
    degrees_of_freedom: float
    """Of these variances taken together."""


@dataclass(frozen=True)
class _Tried:
    log_weight: float
    terms: Floats
    covariance: Floats
    visit_variance: float


def shrunk(visits: Visits, repeat_variance: float, drifts: Floats) -> Shrunk:
    """Return mean and covariance of offsets and drifts, and the scatter of visits.

    repeat_variance: of ln size of one frame; drifts: (parameters,), the parameter's change over
    its session for a change of ln size by 1 (inf for an offset, which is left open).
    """
    tried = list(_tried(visits, repeat_variance, drifts))
    logs = np.array([one.log_weight for one in tried])
    weights = np.exp(logs - logs.max())
    weights /= weights.sum()
    terms = np.array([one.terms for one in tried])
    mean = weights @ terms
    away = terms - mean
    within = np.array([one.covariance for one in tried])
    covariance = np.einsum("k,kij->ij", weights, within) + (weights[:, None] * away).T @ away
    scatter = np.array([one.visit_variance for one in tried])
    spread = 2 * scatter + np.einsum("vi,kij,vj->k", visits.rows, within, visits.rows) / len(
        visits.rows
    )
    return Shrunk(mean, covariance, float(weights @ scatter), _freedom(weights, spread))


def _freedom(weights: Floats, variances: Floats) -> float:
    """Degrees of freedom of the Student's t that has the mixture's fourth moment."""
    mean = float(weights @ variances)
    scatter = float(weights @ (variances - mean) ** 2)
    return 4 + 2 * mean**2 / scatter if scatter > 1e-12 * mean**2 else math.inf


def _tried(visits: Visits, repeat_variance: float, drifts: Floats) -> Iterator[_Tried]:
    roots = np.sqrt(RATIOS)
    beforehand = np.log(np.gradient(roots) / (1 + (roots / VISIT_SCALE) ** 2 / 3) ** 2)
    for ratio, log_prior in zip(RATIOS, beforehand, strict=True):
        variances = repeat_variance * (ratio + 1 / visits.frames)
        weights = 1 / variances
        of_cell = np.asarray(np.bincount(visits.cells, weights), dtype=np.float64)
        rows = _less_cells(visits.rows, visits.cells, weights, of_cell)
        means = _less_cells(visits.means[:, None], visits.cells, weights, of_cell)[:, 0]
        seen, right = (rows * weights[:, None]).T @ rows, (rows * weights[:, None]).T @ means
        fixed = float(np.log(variances).sum() + np.log(of_cell[of_cell > 0]).sum())
        fixed += float(weights @ means**2)
        for drift in DRIFTS if np.isfinite(drifts).any() else DRIFTS[:1]:
            prior = np.where(np.isfinite(drifts), (drifts * drift) ** -2.0, OPEN)
            covariance = np.linalg.inv(seen + np.diag(prior))
            terms = covariance @ right
            log_det = float(np.linalg.slogdet(covariance)[1] + np.log(prior).sum())
            yield _Tried(
                float(log_prior) + 0.5 * (log_det - fixed + float(right @ terms)),
                terms,
                covariance,
                ratio * repeat_variance,
            )


def _less_cells(values: Floats, cells: Indices, weights: Floats, of_cell: Floats) -> Floats:
    """Columns less their weighted mean in each cell."""
    sums = np.stack([np.bincount(cells, weights * column) for column in values.T], axis=1)
    less: Floats = values - (sums / np.maximum(of_cell, 1e-300)[:, None])[cells]
    return less
