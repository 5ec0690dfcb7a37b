"""The spots that a wavefront draws through focus, on the samples of measured ones."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import scipy.ndimage

from nightglass.optics.arrays import Floats
from nightglass.optics.wavefront import Pupil, blurred, mixed_spot, zernike

TERMS = (5, 6, 7, 8, 11)
"""Noll numbers besides 4, which the marks vary: astigmatism, coma, spherical."""
RAYS_ACROSS = 64
WAVELENGTHS_UM = (0.51, 0.54, 0.57)
"""Three samples of green."""
AIRY_SIGMA = 0.42
"""Standard deviation of the Gaussian nearest to an Airy core, in wavelength x f-number."""
PEAK_ERR, LOCAL_ERR = 0.01, 0.05
"""Errors of rebuilt spots and of the model, shares of the peak and of the light there."""
STEP_UM = 1e-3
MARGIN_PX = 3


@dataclass(frozen=True)
class SeriesImages:
    """Rebuilt spots through focus: light (size, size), size odd, with their positions [marks]."""

    light: tuple[Floats, ...]
    positions: tuple[float, ...]
    f_number: float
    pitch_um: float
    source_px: float = 0.0


class Drawn:
    """Spots of a series by rays from a grid over the opening, with what waves add to them.

    Waves take too long for every step of a fit. So they are worked out at the terms found by rays;
    what they make beyond those is added to the rays' spots, and the fit goes on from there.
    """

    def __init__(self, given: SeriesImages) -> None:
        self.given = given
        axis = (np.arange(RAYS_ACROSS) + 0.5) * 2 / RAYS_ACROSS - 1
        x, y = np.meshgrid(axis, axis)
        share = np.clip((1 - np.hypot(x, y)) * RAYS_ACROSS / 2 + 0.5, 0, 1)
        self.x, self.y, self.share = x[share > 0], y[share > 0], share[share > 0]
        reach = 2 * given.f_number / given.pitch_um
        self.slopes = {j: _slopes(j, self.x, self.y, reach) for j in (4, *TERMS)}
        airy = AIRY_SIGMA * WAVELENGTHS_UM[1] * given.f_number / given.pitch_um
        # Sharing a ray among four pixels blurs by 1/6 px^2, a pixel by 1/12.
        self.sigma = math.sqrt(max(airy**2 + given.source_px**2 / 16 - 1 / 12, 0.0))
        self.errs = [_errs(light) for light in given.light]
        self.beyond = [np.zeros_like(light) for light in given.light]
        """What waves make of each spot beyond rays, of light 1."""

    def rest(self, numbers: Floats) -> Floats:
        """Distances of all samples from the model over their errors."""
        rests = []
        for light, errs, beyond, position in zip(
            self.given.light, self.errs, self.beyond, self.given.positions, strict=True
        ):
            made = self._rays(numbers, position, light) + beyond
            weight = made / errs
            norm = float((weight * weight).sum())
            height = float((weight * light / errs).sum()) / norm if norm > 0 else 0.0
            rests.append(((light - height * made) / errs).ravel())
        return np.concatenate(rests)

    def learn_waves(self, numbers: Floats) -> None:
        """Take what waves make of each spot at these numbers into the model."""
        for k, (light, position) in enumerate(
            zip(self.given.light, self.given.positions, strict=True)
        ):
            rays = self._rays(numbers, position, light)
            self.beyond[k] = self._waves(numbers, position, light) - rays

    def _terms(self, numbers: Floats, position: float) -> dict[int, float]:
        defocus = numbers[0] * (position - numbers[1])
        return {4: float(defocus), **dict(zip(TERMS, map(float, numbers[2:7]), strict=True))}

    def _waves(self, numbers: Floats, position: float, light: Floats) -> Floats:
        """The spot by interference, light 1, on the samples of a frame."""
        given, middle = self.given, light.shape[0] // 2
        dx, dy = self._landed(numbers, position)
        reach = min(math.ceil(float(np.hypot(dx, dy).max())), 2 * middle) + MARGIN_PX
        half = min(middle, reach)
        steps = math.ceil(given.pitch_um / (0.5 * min(WAVELENGTHS_UM) * given.f_number))
        step_um, samples = given.pitch_um / steps, (2 * reach + 1) * steps
        weight = self.share / self.share.sum()
        shift_um = tuple(
            (c - middle - float((weight * d).sum())) * given.pitch_um
            for c, d in zip(_centre(light), (dx, dy), strict=True)
        )
        pupil = Pupil(given.f_number, self._terms(numbers, position))
        sharp = mixed_spot(pupil, WAVELENGTHS_UM, step_um, samples, (shift_um[0], shift_um[1]))
        seen = blurred(sharp, step_um, given.pitch_um, given.source_px * given.pitch_um)
        first = samples // 2 - half * steps
        made = np.zeros_like(light)
        inside = slice(middle - half, middle + half + 1)
        made[inside, inside] = seen[first::steps, first::steps][: 2 * half + 1, : 2 * half + 1]
        return made * steps**2

    def _landed(self, numbers: Floats, position: float) -> tuple[Floats, Floats]:
        """Where rays land beside the ideal image [px]."""
        terms = self._terms(numbers, position)
        dx = sum(c * self.slopes[j][0] for j, c in terms.items())
        dy = sum(c * self.slopes[j][1] for j, c in terms.items())
        return np.asarray(dx), np.asarray(dy)

    def _rays(self, numbers: Floats, position: float, light: Floats) -> Floats:
        dx, dy = self._landed(numbers, position)
        weight = self.share / self.share.sum()
        cx, cy = _centre(light)
        dx = dx - float((weight * dx).sum()) + cx
        dy = dy - float((weight * dy).sum()) + cy
        return self._shared(dx, dy, self.share, light.shape[0])

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


def _centre(light: Floats) -> tuple[float, float]:
    rows, columns = np.indices(light.shape)
    total = float(light.sum())
    return float((light * columns).sum()) / total, float((light * rows).sum()) / total


def _slopes(j: int, x: Floats, y: Floats, reach: float) -> tuple[Floats, Floats]:
    """Where a ray lands for 1 um of a term [px]: 2 N dW/dx over the pitch."""
    right = (zernike(j, x + STEP_UM, y) - zernike(j, x - STEP_UM, y)) / (2 * STEP_UM)
    down = (zernike(j, x, y + STEP_UM) - zernike(j, x, y - STEP_UM)) / (2 * STEP_UM)
    return reach * right, reach * down


def _errs(light: Floats) -> Floats:
    peak = float(light.max())
    return np.hypot(PEAK_ERR * peak, LOCAL_ERR * np.maximum(light, 0.0))
