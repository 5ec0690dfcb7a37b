"""The wavefront of a lens from a series through focus: low-order terms, their errors, misfit.

Terms are numbered and normed as Noll does (1976, J. Opt. Soc. Am. 66, 207): rms path error in um
over the full opening. One frame does not tell W(x) from -W(-x); frames on both sides of focus do,
up to the direction in which the marks run. Signs hold as if higher marks moved the lens's focus
behind the sensor; if they run the other way, defocus, astigmatism and spherical change sign and
coma does not.
The opening is taken as full and round: where the lens cuts it off, terms would come out wrong while
the picture still fits, so only series at the centre are fitted.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import scipy.ndimage
from scipy.optimize import OptimizeResult, least_squares

from nightglass.bench.focus.records import Value, WavefrontFault, WavefrontFit
from nightglass.optics.arrays import Floats
from nightglass.optics.wavefront import zernike

TERMS = (5, 6, 7, 8, 11)
"""Noll numbers besides 4, which the marks vary: astigmatism, coma, spherical."""
RAYS_ACROSS = 64
LEAST_FRAMES = 5
MOST_CHI2 = 3.0
"""Chi^2 per degree of freedom over which no terms are given."""
WAVELENGTH_UM = 0.54
AIRY_SIGMA = 0.42
"""Standard deviation of the Gaussian nearest to an Airy core, in wavelength x f-number."""
PEAK_ERR, LOCAL_ERR = 0.01, 0.05
"""Errors of rebuilt spots and of rays for waves, shares of the peak and of the light there."""
STEP_UM = 1e-3
METHOD_UM = 0.01
METHOD_SHARE = {11: 0.25}
"""Errors of rays in the place of waves: in simulated series spherical came out 8 to 26 % low, the
others 3 to 7 %."""
OTHER_SHARE = 0.07


@dataclass(frozen=True)
class SeriesImages:
    """Rebuilt spots through focus: light (size, size), size odd, with their positions [marks]."""

    light: tuple[Floats, ...]
    positions: tuple[float, ...]
    f_number: float
    pitch_um: float
    source_px: float = 0.0


def fit_wavefront(given: SeriesImages, best: float, slope_px: float) -> WavefrontFit:
    """Return the terms of a series, or the fault for which there are none.

    best: position of best focus; slope_px: growth of the spot's length far from it [px a mark].
    """
    if len(set(given.positions)) < LEAST_FRAMES:
        return WavefrontFit(fault=WavefrontFault.TOO_FEW)
    model = _Model(given)
    # The rim's ray lands 2 N dW/dr off, so a disc of D px has W20 = D p / (8 N).
    per_mark = slope_px / 0.805384 * given.pitch_um / (8 * given.f_number) / (2 * math.sqrt(3))
    tries = [
        _run(model, np.array([per_mark, best, 0, 0, 0, 0, sign * 0.05]), per_mark, best, 6)
        for sign in (1, -1)
    ]
    run = min(tries, key=lambda one: float(one.cost))
    run = _run(model, np.asarray(run.x, dtype=np.float64), per_mark, best, 20)
    free = max(run.fun.size - run.x.size - len(given.light), 1)
    chi2 = float(run.fun @ run.fun) / free
    if chi2 > MOST_CHI2:
        return WavefrontFit(fault=WavefrontFault.MISFIT, chi2_per_free=chi2)
    covariance = np.linalg.pinv(run.jac.T @ run.jac, hermitian=True) * max(chi2, 1.0) * model.alike
    errs = np.sqrt(np.maximum(np.diag(covariance), 0.0))
    values = [Value(float(v), float(e)) for v, e in zip(run.x, errs, strict=True)]
    values[2:] = [_with_method(j, one) for j, one in zip(TERMS, values[2:], strict=True)]
    return WavefrontFit(
        terms=dict(zip(TERMS, values[2:7], strict=True)),
        per_mark_um=values[0],
        position=values[1],
        chi2_per_free=chi2,
    )


def _with_method(j: int, found: Value) -> Value:
    share = METHOD_SHARE.get(j, OTHER_SHARE) * abs(found.value)
    return Value(found.value, math.sqrt(found.err**2 + share**2 + METHOD_UM**2))


class _Model:
    """Rays from a grid over the opening to the pixels of each frame."""

    def __init__(self, given: SeriesImages) -> None:
        self.given = given
        axis = (np.arange(RAYS_ACROSS) + 0.5) * 2 / RAYS_ACROSS - 1
        x, y = np.meshgrid(axis, axis)
        share = np.clip((1 - np.hypot(x, y)) * RAYS_ACROSS / 2 + 0.5, 0, 1)
        self.x, self.y, self.share = x[share > 0], y[share > 0], share[share > 0]
        reach = 2 * given.f_number / given.pitch_um
        self.slopes = {j: _slopes(j, self.x, self.y, reach) for j in (4, *TERMS)}
        airy = AIRY_SIGMA * WAVELENGTH_UM * given.f_number / given.pitch_um
        # Sharing a ray among four pixels blurs by 1/6 px^2, a pixel by 1/12.
        self.sigma = math.sqrt(max(airy**2 + given.source_px**2 / 16 - 1 / 12, 0.0))
        self.alike = 2.0
        self.errs = [_errs(light) for light in given.light]

    def rest(self, numbers: Floats) -> Floats:
        """Distances of all samples from the model over their errors."""
        rests = []
        for light, errs, position in zip(
            self.given.light, self.errs, self.given.positions, strict=True
        ):
            made = self._spot(numbers, position, light)
            weight = made / errs
            norm = float((weight * weight).sum())
            height = float((weight * light / errs).sum()) / norm if norm > 0 else 0.0
            rests.append(((light - height * made) / errs).ravel())
        return np.concatenate(rests)

    def _spot(self, numbers: Floats, position: float, light: Floats) -> Floats:
        per_mark, best = numbers[0], numbers[1]
        terms = {4: per_mark * (position - best), **dict(zip(TERMS, numbers[2:7], strict=True))}
        dx = sum(c * self.slopes[j][0] for j, c in terms.items())
        dy = sum(c * self.slopes[j][1] for j, c in terms.items())
        share = self.share
        total = float(light.sum())
        rows, columns = np.indices(light.shape)
        cx, cy = (float((light * part).sum()) / total for part in (columns, rows))
        weight = share / share.sum()
        dx = dx - float((weight * dx).sum()) + cx
        dy = dy - float((weight * dy).sum()) + cy
        return self._shared(dx, dy, share, light.shape[0])

    def _shared(self, x: Floats, y: Floats, share: Floats, size: int) -> Floats:
        column, row = np.floor(x).astype(int), np.floor(y).astype(int)
        fx, fy = x - column, y - row
        image = np.zeros(size * size)
        for down, across, part in (
            (0, 0, (1 - fx) * (1 - fy)), (0, 1, fx * (1 - fy)),
            (1, 0, (1 - fx) * fy), (1, 1, fx * fy),
        ):  # fmt: skip
            r, c = row + down, column + across
            good = (r >= 0) & (r < size) & (c >= 0) & (c < size)
            image += np.bincount(
                r[good] * size + c[good], weights=(share * part)[good], minlength=size * size
            )
        made = image.reshape(size, size) / share.sum()
        if self.sigma > 0.05:
            made = scipy.ndimage.gaussian_filter(made, self.sigma, mode="constant")
        return made


def _slopes(j: int, x: Floats, y: Floats, reach: float) -> tuple[Floats, Floats]:
    """Where a ray lands for 1 um of a term [px]: 2 N dW/dx over the pitch."""
    right = (zernike(j, x + STEP_UM, y) - zernike(j, x - STEP_UM, y)) / (2 * STEP_UM)
    down = (zernike(j, x, y + STEP_UM) - zernike(j, x, y - STEP_UM)) / (2 * STEP_UM)
    return reach * right, reach * down


def _errs(light: Floats) -> Floats:
    peak = float(light.max())
    return np.hypot(PEAK_ERR * peak, LOCAL_ERR * np.maximum(light, 0.0))


def _run(model: _Model, start: Floats, per_mark: float, best: float, rounds: int) -> OptimizeResult:
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
