"""The wavefront of a lens from a series through focus: low-order terms, their errors, misfit.

Terms are numbered and normed as Noll does (1976, J. Opt. Soc. Am. 66, 207): rms path error in um
over the full opening. One frame does not tell W(x) from -W(-x); frames on both sides of focus do,
up to the direction in which the marks run. A fit's signs hold as if higher marks ran toward
infinity, which moves the focus behind the sensor; `directed` turns them, or takes them away where
the direction is not known. Coma keeps its sign either way.
The opening is taken as full and round: where the lens cuts it off, terms would come out wrong while
the picture still fits, so only series at the centre are fitted.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from scipy.optimize import OptimizeResult, least_squares

from nightglass.bench.focus.drawn import TERMS, Drawn, SeriesImages
from nightglass.bench.focus.records import Value, WavefrontFault, WavefrontFit
from nightglass.gear.lens import MarksToward
from nightglass.optics.arrays import Floats

EVEN = (5, 6, 11)
"""Those that change sign with the direction of the marks, as Noll 4 does."""
LEAST_FRAMES = 5
ALIKE = 2.0
"""Samples of a rebuilt spot that share one error."""
STEPS, WAVE_STEPS, WAVE_ROUNDS = 12, 5, 4
"""Steps of the fit with rays, then those after each time that waves are worked out: each time
halves what rays alone leave, 3 % of the defocus and 10 % of the spherical."""
MOST_CHI2 = 3.0
"""Chi^2 per degree of freedom over which no terms are given."""
METHOD_UM, METHOD_SHARE = 0.003, 0.03
"""Errors of rebuilt spots beside those that the misfit shows: of a term, and as a share of it."""
USUAL_CHI2 = 0.4
"""Misfit of the series that those errors come from; a worse one has them larger by its root."""
FOCUS_UM, STEP_SHARE = 0.014, 0.012
"""Errors of the method in the defocus at best focus [um rms] and in that of one mark. All four:
design/focus_wavefronts.py."""


def fit_wavefront(given: SeriesImages, best: float, slope_px: float) -> WavefrontFit:
    """Return the terms of a series, or the fault for which there are none.

    best: position of best focus; slope_px: growth of the spot's length far from it [px a mark].
    """
    if len(set(given.positions)) < LEAST_FRAMES:
        return WavefrontFit(fault=WavefrontFault.TOO_FEW)
    model = Drawn(given)
    # The rim's ray lands 2 N dW/dr off, so a disc of D px has W20 = D p / (8 N).
    per_mark = slope_px / 0.805384 * given.pitch_um / (8 * given.f_number) / (2 * math.sqrt(3))
    tries = [
        _run(model, np.array([per_mark, best, 0, 0, 0, 0, sign * 0.05]), per_mark, best, 6)
        for sign in (1, -1)
    ]
    run = min(tries, key=lambda one: float(one.cost))
    run = _run(model, run.x, per_mark, best, STEPS)
    for _ in range(WAVE_ROUNDS):
        model.learn_waves(run.x)
        run = _run(model, run.x, per_mark, best, WAVE_STEPS)
    free = max(run.fun.size - run.x.size - len(given.light), 1)
    chi2 = float(run.fun @ run.fun) / free
    if chi2 > MOST_CHI2:
        return WavefrontFit(fault=WavefrontFault.MISFIT, chi2_per_free=chi2)
    return _stated(run, chi2)


def _stated(run: OptimizeResult, chi2: float) -> WavefrontFit:
    """The numbers of a fit with the errors that its scatter, its misfit and the method give."""
    covariance = np.linalg.pinv(run.jac.T @ run.jac, hermitian=True) * max(chi2, 1.0) * ALIKE
    errs = np.sqrt(np.maximum(np.diag(covariance), 0.0))
    numbers = [float(v) for v in run.x]
    worse = math.sqrt(max(chi2 / USUAL_CHI2, 1.0))
    method = [
        STEP_SHARE * numbers[0],
        FOCUS_UM / numbers[0],
        *(math.hypot(METHOD_UM, METHOD_SHARE * v) for v in numbers[2:]),
    ]
    per_mark, position, *terms = (
        Value(v, math.hypot(float(e), worse * m))
        for v, e, m in zip(numbers, errs, method, strict=True)
    )
    return WavefrontFit(dict(zip(TERMS, terms, strict=True)), per_mark, position, chi2)


def directed(fit: WavefrontFit, towards: MarksToward | None) -> WavefrontFit:
    """Return a fit with the signs that the direction of its marks gives it.

    towards: the end to which higher marks run. A lens that turns toward infinity comes nearer to
    the sensor, and the image of a source that stays where it is moves behind it.
    """
    if fit.per_mark_um is None:
        return replace(fit, towards=towards)
    terms = {j: _turned(v, towards) if j in EVEN else v for j, v in fit.terms.items()}
    return replace(fit, terms=terms, per_mark_um=_turned(fit.per_mark_um, towards), towards=towards)


def _turned(found: Value, towards: MarksToward | None) -> Value:
    if towards is None:
        return Value(abs(found.value), found.err)
    return found if towards == "infinity" else Value(-found.value, found.err)


def _run(model: Drawn, start: Floats, per_mark: float, best: float, rounds: int) -> OptimizeResult:
    reach = 10 * per_mark
    far = float(np.ptp(model.given.positions)) / 4
    low = np.array([0.5 * per_mark, best - far, *[-reach] * 5])
    high = np.array([2 * per_mark, best + far, *[reach] * 5])
    return least_squares(
        model.rest,
        np.clip(start, low, high),
        bounds=(low, high),
        x_scale=np.array([0.1 * per_mark, 0.2, *[0.3 * per_mark] * 5]),
        ftol=1e-5,
        diff_step=[1e-3],
        max_nfev=rounds,
    )
