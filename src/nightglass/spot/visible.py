"""Core and skirt: extents of what stands above a share of the peak, as an eye would take them."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.ndimage import gaussian_filter, label, zoom

from nightglass.optics.arrays import Flags, Floats

SMOOTH_PX = 0.85
CORE_SHARE = 0.5
SKIRT_SHARE = 1 / 64
"""Six stops under the peak."""
GAP_PX = 2.0
FINE, LESS_FINE = 4, 2
"""Sub-pixel steps on which extents are read, up to and above an aperture of FINE_UP_TO_PX."""
FINE_UP_TO_PX = 14.0
LEAST_SIGMA = 5.0
SMOOTHED_NOISE = 1 / (2 * math.sqrt(math.pi) * SMOOTH_PX)
"""Noise after the smoothing, over the noise of one sample."""


@dataclass(frozen=True)
class Visible:
    """Extents [px] along and across the long axis; None where the light is too faint for them."""

    core_length_px: float
    core_width_px: float
    core_parts: int
    skirt_length_px: float | None
    skirt_width_px: float | None
    skirt_floor_px: float


def visible(
    light: Floats, centre: tuple[float, float], radius_px: float, angle_degrees: float, noise: float
) -> Visible:
    """Return core and skirt of a rebuilt spot on whole pixels.

    centre: (x, y) in samples of light. noise: standard deviation of one sample.
    """
    steps = FINE if radius_px < FINE_UP_TO_PX else LESS_FINE
    fine = _smoothed(light, steps)
    dx = np.arange(fine.shape[1])[None, :] / steps - centre[0]
    dy = np.arange(fine.shape[0])[:, None] / steps - centre[1]
    net = np.where(np.hypot(dx, dy) <= radius_px, fine, -np.inf)
    peak = float(net.max())
    angle = math.radians(angle_degrees)
    along = dx * math.cos(angle) + dy * math.sin(angle)
    across = -dx * math.sin(angle) + dy * math.cos(angle)
    core = net > CORE_SHARE * peak
    skirt = joined(net > SKIRT_SHARE * peak, int(np.argmax(net)), steps)
    seen = peak * SKIRT_SHARE >= LEAST_SIGMA * SMOOTHED_NOISE * noise
    return Visible(
        core_length_px=_extent(along, core, steps),
        core_width_px=_extent(across, core, steps),
        core_parts=int(label(core, np.ones((3, 3)))[1]),
        skirt_length_px=_extent(along, skirt, steps) if seen else None,
        skirt_width_px=_extent(across, skirt, steps) if seen else None,
        skirt_floor_px=skirt_floor_px(),
    )


def skirt_floor_px() -> float:
    """Return the skirt of a perfect point: a Gaussian of the smoothing and of the pixel."""
    sigma = math.sqrt(SMOOTH_PX**2 + 1 / 12)
    return 2 * sigma * math.sqrt(2 * math.log(1 / SKIRT_SHARE))


def joined(mask: Flags, start: int, steps: int) -> Flags:
    """Return the part of a fine mask that hangs together with a place across gaps of up to 2 px.

    start: flat index of that place; steps: samples per px.
    """
    reach = int(GAP_PX * steps / 2)
    grown = mask
    for _ in range(reach):
        grown = _spread(grown)
    parts, _ = label(grown, np.ones((3, 3)))
    kept: Flags = mask & (parts == parts.flat[start])
    return kept


def _spread(mask: Flags) -> Flags:
    padded = np.pad(mask, 1)
    h, w = mask.shape
    out = np.zeros_like(mask)
    for i, j in ((0, 1), (1, 0), (1, 1), (1, 2), (2, 1)):
        out |= padded[i : i + h, j : j + w]
    return out


def _smoothed(light: Floats, steps: int) -> Floats:
    smooth = gaussian_filter(light, SMOOTH_PX, mode="constant", truncate=5.0)
    fine: Floats = zoom(smooth, _zoom_of(light.shape, steps), order=3, mode="nearest")
    return fine


def _zoom_of(shape: tuple[int, ...], steps: int) -> tuple[float, ...]:
    """Return factors that keep the first and last sample in place, steps per px between them."""
    return tuple(((n - 1) * steps + 1) / n for n in shape)


def _extent(u: Floats, mask: Flags, steps: int) -> float:
    inside = u[mask]
    return float(inside.max() - inside.min()) + 1 / steps if inside.size else 0.0
