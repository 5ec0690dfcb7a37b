"""How the noise of the samples moves each measure: first-order propagation.

Each measure answers to a little extra light in a pixel with its influence; the noise of the
measure is the root of the summed squares of influence times the pixel's noise.
"""

from __future__ import annotations

import math

import numpy as np

from nightglass.optics.arrays import Floats
from nightglass.optics.extent import TAIL_SHARE
from nightglass.spot.measures import Measures

ASSUMED_GAIN_E_PER_COUNT = 1.0
"""Electrons per count where the bench file does not say: photon noise is then no more than a
part of the error, which the method rules (design/spot_rebuild.py)."""


def noise_errors(
    light: Floats,
    centre: tuple[float, float],
    values: Measures,
    sigma: tuple[float, float],
    gain_e_per_count: float,
) -> Measures:
    """Return 1-sigma errors of the measures from the noise of the samples alone.

    light: rebuilt light on whole pixels; centre: (x, y) of the light in its samples. sigma: noise
    of one sample and error of the background's level [counts]. The aperture is chosen, so that
    its error is 0.
    """
    rows, columns = light.shape
    far = np.hypot(np.arange(rows)[:, None] - centre[1], np.arange(columns)[None, :] - centre[0])
    row, column = np.nonzero(far <= values.aperture_px)
    w, apart = light[row, column], far[row, column]
    dx: Floats = column.astype(np.float64) - centre[0]
    dy: Floats = row.astype(np.float64) - centre[1]
    flux = float(w.sum())
    variance = sigma[0] ** 2 + np.maximum(w, 0) / gain_e_per_count

    def error(influence: Floats) -> float:
        level = float(influence.sum()) * sigma[1]
        return math.sqrt(float(influence**2 @ variance) + level**2)

    angle = math.radians(values.angle_degrees)
    along = dx * math.cos(angle) + dy * math.sin(angle)
    across = -dx * math.sin(angle) + dy * math.cos(angle)
    spread = max(abs(float(w @ (along**2 - across**2)) / flux), 1e-6)
    square = float(w @ w)
    return Measures(
        flux=error(np.ones_like(w)),
        x_px=error(dx / flux),
        y_px=error(dy / flux),
        length_px=error(_span_influence(w, along, flux)),
        width_px=error(_span_influence(w, across, flux)),
        ee50_px=error(_circle_influence(w, apart, flux, 0.5)),
        ee80_px=error(_circle_influence(w, apart, flux, 0.8)),
        angle_degrees=math.degrees(error(along * across / (flux * spread))),
        noise_area_px=error(2 * flux / square - 2 * flux**2 * w / square**2),
        lean=error(_span_influence(w, along, flux)) / max(values.length_px, 1.0),
        aperture_px=0.0,
    )


def _span_influence(w: Floats, u: Floats, flux: float) -> Floats:
    influence: Floats = np.zeros(w.shape)
    for share, sign in ((TAIL_SHARE, -1.0), (1 - TAIL_SHARE, 1.0)):
        at, density = _quantile(w, u, flux, share)
        influence += sign * (share - (u < at)) / density
    return influence


def _circle_influence(w: Floats, r: Floats, flux: float, share: float) -> Floats:
    at, density = _quantile(w, r, flux, share)
    return (share - (r < at).astype(np.float64)) * (2 / density)


def _quantile(w: Floats, u: Floats, flux: float, share: float) -> tuple[float, float]:
    """Return where the light reaches a share, and the light per px there."""
    order = np.argsort(u)
    total = np.cumsum(w[order]) / flux
    at = float(np.interp(share, np.maximum.accumulate(total), u[order]))
    near = np.abs(u - at) < 0.75
    return at, max(float(w[near].sum()) / 1.5, 1e-3 * flux)
