"""The lens's falloff told apart from the light's own unevenness on one evenly lit frame."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.optimize import least_squares

from nightglass.gear.body import Body
from nightglass.gear.lens import Lens
from nightglass.light.falloff import LN_PER_MAG
from nightglass.optics.arrays import Floats
from nightglass.optics.projection import off_axis_degrees, relative_solid_angle

INSIDE = 5
"""Points each way at which a cell of the frame is summed: a mean of light, not light of a mean."""
ROUND_PART = 1.32
"""Student's t with two degrees of freedom within which 68.3 % lie (handbook tables)."""
FLOOR_MAG = 0.01
"""Error at field radius 1 that stays whatever the fit says: counts are straight to 1 % (common
practice)."""

HARD_EDGE = (20.0, -12.0)
"""Error of the terms of q^2 and q^4, both together, over the scatter of the cells about the fit: a
rim that shades the corner bends harder than two powers can (design/flats_rim.py)."""


@dataclass(frozen=True)
class Shading:
    """What one frame of an even light shows."""

    terms_mag: tuple[float, float]
    """The pupil's falloff at field radius 1: the terms of q^2 and q^4."""
    covariance: tuple[float, float, float]
    """Variance, covariance, variance [mag^2]: of the fit, of what two powers can't follow, and of
    what the light itself may do."""
    centre_counts: float
    """Counts above black at the frame's centre."""
    centre_err: float
    """Relative 1-sigma error of it."""
    slope_mag: float
    """How much brighter the light is at one end of the frame's diagonal than at the middle."""
    bent_mag: float
    """Unevenness of second order that does not turn with the lens, at field radius 1."""
    misfit_mag: float
    """Scatter of the cells about the fit."""


def fit_shading(counts: Floats, body: Body, lens: Lens, focal_mm: float) -> Shading:
    """Return the falloff and the light's unevenness from the mean counts of a frame's cells.

    counts: above black, (rows, columns), the whole frame. The logarithm of light is fitted with
    q^2 and q^4 (lens), x and y (a light brighter on one side) and x^2 - y^2 and 2xy (a light that
    bends): lenses are round, lights are not. A light that falls off evenly to all sides of the
    frame's centre can't be told from the lens by one frame or by turning the camera about its
    axis. What is not round of its bend is seen, and for a bend of random direction the round part
    is as large: its variance is that of both others together (an isotropic random field has
    <fxx^2> = 3 <fxx fyy> = 3 <fxy^2>). Two numbers tell that variance, so the 1-sigma error is
    Student's with two degrees of freedom. Of the scatter about the fit, see HARD_EDGE. Raises
    ValueError for cells without light.
    """
    if not np.all(np.isfinite(counts)) or counts.min() <= 0:
        raise ValueError("a part of the frame holds no light; take the cap off, light all of it")
    x, y, solid = _points(counts.shape, body, lens, focal_mm)
    square = x**2 + y**2
    seen = np.log(counts / counts.max())
    uneven = (x, y, x**2 - y**2, 2 * x * y, np.ones_like(square))
    basis = np.stack([square, square**2, *uneven], axis=-1)

    def misfit(parts: Floats) -> Floats:
        light = np.exp(-LN_PER_MAG * (basis @ parts)) * solid
        return np.asarray((np.log(light.mean(axis=-1)) - seen).ravel() / LN_PER_MAG)

    found = least_squares(misfit, np.zeros(7), method="lm")
    free = counts.size - 7
    scatter = math.sqrt(float(np.sum(found.fun**2)) / free)
    jac = np.asarray(found.jac, dtype=np.float64)
    cov = np.linalg.inv(jac.T @ jac) * scatter**2
    edge = [part * scatter for part in HARD_EDGE]
    bent = float(np.hypot(found.x[4], found.x[5]))
    return Shading(
        (float(found.x[0]), float(found.x[1])),
        (
            float(cov[0, 0] + (ROUND_PART * bent) ** 2 + edge[0] ** 2 + FLOOR_MAG**2),
            float(cov[0, 1] + edge[0] * edge[1]),
            float(cov[1, 1] + edge[1] ** 2),
        ),
        float(counts.max() * math.exp(-LN_PER_MAG * found.x[6])),
        float(LN_PER_MAG * math.sqrt(cov[6, 6])),
        float(np.hypot(found.x[2], found.x[3])),
        bent,
        scatter,
    )


def _points(
    shape: tuple[int, ...], body: Body, lens: Lens, focal_mm: float
) -> tuple[Floats, Floats, Floats]:
    """Places inside each cell in half diagonals, and the relative solid angle of a pixel there."""
    rows, columns = shape
    half = math.hypot(body.width_mm, body.height_mm) / 2
    along = [
        ((np.arange(n)[:, None] + (np.arange(INSIDE) + 0.5) / INSIDE) / n - 0.5) * size / half
        for n, size in ((rows, body.height_mm), (columns, body.width_mm))
    ]
    y, x = along[0][:, None, :, None], along[1][None, :, None, :]
    x, y = (np.broadcast_to(a, (rows, columns, INSIDE, INSIDE)) for a in (x, y))
    theta = off_axis_degrees(np.hypot(x, y) * half, focal_mm, lens.projection)
    solid = np.nan_to_num(relative_solid_angle(theta, lens.projection), nan=0.0)
    flat = (rows, columns, INSIDE**2)
    return x.reshape(flat), y.reshape(flat), np.maximum(solid, 1e-6).reshape(flat)
