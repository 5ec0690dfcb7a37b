"""Least squares in which outliers weigh little, and the errors of such a fit."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from nightglass.optics.arrays import Floats

TURN = 2.0
"""Misses beyond 2 deviations count by their size, not its square."""
LEAST_SPREAD = 0.5
"""A miss counts in the errors with at least this share of its expected size."""


def robust_least_squares(
    residuals: Callable[[Floats], Floats], slopes: Callable[[Floats], Floats], start: Floats
) -> tuple[Floats, float]:
    """Return the parameters of least sum of 2 f^2 (sqrt(1 + (r/f)^2) - 1), and the sum.

    slopes: derivatives of the residuals (residuals, parameters). Levenberg's damping on the normal
    equations: eight parameters and thousands of stars, where a decomposition of the whole Jacobian
    costs a hundred times as much.
    """

    def total(r: Floats) -> float:
        return float(np.sum(2 * TURN**2 * (np.sqrt(1 + (r / TURN) ** 2) - 1)))

    p = start.copy()
    r = residuals(p)
    cost, damping = total(r), 1e-4
    for _ in range(40):
        jacobian = slopes(p)
        weighted = jacobian / np.sqrt(1 + (r / TURN) ** 2)[:, None]
        normal = weighted.T @ jacobian
        slope = weighted.T @ r
        before = cost
        while damping < 1e8:
            trial = p - np.linalg.solve(normal + damping * np.diag(np.diag(normal)), slope)
            r_trial = residuals(trial)
            cost_trial = total(r_trial)
            if cost_trial <= cost:
                p, r, cost = trial, r_trial, cost_trial
                damping = max(damping / 10, 1e-9)
                break
            damping *= 10
        if before - cost < 1e-6 * before + 1e-9:
            break
    return p, cost


def robust_covariance(jacobian: Floats, r: Floats, priors: int) -> Floats:
    """Return the covariance of a robust fit from its misses as they are.

    priors: how many of the residuals, the last ones, hold parameters and are no misses.

    The sandwich of Huber 1967, Proc. 5th Berkeley Symp. 1, 221: H^-1 (J^T psi^2 J) H^-1.
    """
    weight = 1 / np.sqrt(1 + (r / TURN) ** 2)
    pull = np.maximum((r * weight) ** 2, LEAST_SPREAD**2)
    pull[-priors:] = 1.0
    inverse = np.linalg.pinv((jacobian * weight[:, None]).T @ jacobian)
    return np.asarray(inverse @ ((jacobian * pull[:, None]).T @ jacobian) @ inverse)
