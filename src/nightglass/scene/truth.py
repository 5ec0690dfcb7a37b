"""What a rendered star measures without noise and mosaic: the truth to compare with.

Never stored in a bench folder: it is worked out again from the plan when a test asks for it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import scipy.ndimage

from nightglass.optics.arrays import Flags, Floats
from nightglass.optics.extent import Extent, extent, quantiles
from nightglass.scene.star import FineSpot

SMOOTHING_PX = 0.85
"""Gaussian before core and skirt are read off (docs/glossary.md)."""
LEAST_STEPS = 5
"""Samples per pixel that are kept: light that went through a pixel holds nothing finer, and
keeping three times as many changes no length by more than 0.003 px."""
SKIRT_SHARE = 1 / 64
SKIRT_GAP_PX = 2.0


@dataclass(frozen=True)
class Truth:
    """Measures of one colour of a rendered star, in the terms of docs/glossary.md."""

    x_px: float
    y_px: float
    length_px: float
    width_px: float
    angle_degrees: float
    ee50_px: float
    ee80_px: float
    noise_area_px: float
    aperture_px: float
    core_length_px: float
    core_width_px: float
    core_parts: int
    skirt_length_px: float
    skirt_width_px: float
    lean: float
    """Along the outward radial direction; 0 for a star in the optical centre."""


def truth(fine: FineSpot, colour: int, centre_px: tuple[float, float]) -> Truth:
    """Return the measures of one colour; centre_px is the optical centre (x, y).

    Raises ValueError where `extent` does: no light, or a window too small for the aperture.
    """
    fine = _thinned(fine)
    step_px = 1 / fine.steps
    light, pad_px = _with_room(fine, colour)
    found = extent(light, step_px)
    smooth = scipy.ndimage.gaussian_filter(light, SMOOTHING_PX * fine.steps, truncate=5)
    core = _beyond(smooth, found, step_px, 0.5)
    skirt = _joined(_beyond(smooth, found, step_px, SKIRT_SHARE), smooth, fine.steps)
    core_length, core_width = _reach(core, found.angle_degrees, step_px)
    skirt_length, skirt_width = _reach(skirt, found.angle_degrees, step_px)
    x, y = fine.left_px - pad_px + found.x_px, fine.top_px - pad_px + found.y_px
    return Truth(
        x_px=x,
        y_px=y,
        length_px=found.length_px,
        width_px=found.width_px,
        angle_degrees=found.angle_degrees,
        ee50_px=found.ee50_px,
        ee80_px=found.ee80_px,
        noise_area_px=found.noise_area_px,
        aperture_px=found.aperture_px,
        core_length_px=core_length,
        core_width_px=core_width,
        core_parts=int(scipy.ndimage.label(core, np.ones((3, 3)))[1]),
        skirt_length_px=skirt_length,
        skirt_width_px=skirt_width,
        lean=_lean(light, found, step_px, (x - centre_px[0], y - centre_px[1])),
    )


def colour_offset_px(fine: FineSpot, colour: int) -> tuple[float, float]:
    """Return the centre of light of a colour minus that of green (x, y) [px]."""
    fine = _thinned(fine)
    step_px = 1 / fine.steps
    there, green = (extent(_with_room(fine, c)[0], step_px) for c in (colour, 1))
    return there.x_px - green.x_px, there.y_px - green.y_px


def _thinned(fine: FineSpot) -> FineSpot:
    """Return the spot with no more samples per pixel than its measures need."""
    allowed = range(1, fine.steps // LEAST_STEPS + 1)
    keep = max((k for k in allowed if fine.steps % k == 0), default=1)
    light = {colour: values[::keep, ::keep] for colour, values in fine.light.items()}
    return FineSpot(light, fine.steps // keep, fine.left_px, fine.top_px)


def _with_room(fine: FineSpot, colour: int) -> tuple[Floats, int]:
    """Return a colour's light with darkness around it for the background ring, its width [px]."""
    light = fine.light[colour].astype(np.float64)
    pad_px = math.ceil(0.6 * light.shape[0] / fine.steps)
    return np.pad(light, pad_px * fine.steps), pad_px


def _beyond(smooth: Floats, found: Extent, step_px: float, share: float) -> Flags:
    """Return the places inside the aperture that are brighter than a share of the peak."""
    rows, columns = np.indices(smooth.shape)
    away = np.hypot(columns * step_px - found.x_px, rows * step_px - found.y_px)
    inside = away <= found.aperture_px
    return inside & (smooth > share * smooth[inside].max())


def _joined(bright: Flags, smooth: Floats, steps: int) -> Flags:
    """Return what is joined to the peak across gaps of up to SKIRT_GAP_PX."""
    away = scipy.ndimage.distance_transform_edt(~bright)
    pieces, _ = scipy.ndimage.label(away <= SKIRT_GAP_PX / 2 * steps, np.ones((3, 3)))
    peak = pieces[np.unravel_index(np.argmax(smooth * bright), smooth.shape)]
    return bright & (pieces == peak)


def _reach(places: Flags, angle_degrees: float, step_px: float) -> tuple[float, float]:
    """Return the extents [px] along and across the long axis; a sample has its own width."""
    rows, columns = np.nonzero(places)
    c, s = math.cos(math.radians(angle_degrees)), math.sin(math.radians(angle_degrees))
    along, across = columns * c + rows * s, rows * c - columns * s
    return (float(np.ptp(along)) + 1) * step_px, (float(np.ptp(across)) + 1) * step_px


def _lean(light: Floats, found: Extent, step_px: float, outward: tuple[float, float]) -> float:
    if math.hypot(*outward) < 1:
        return 0.0
    angle = math.atan2(outward[1], outward[0])
    centre = (found.x_px, found.y_px)
    q5, q50, q95 = quantiles(light, step_px, centre, found.aperture_px, angle, (0.05, 0.5, 0.95))
    return (q95 + q5 - 2 * q50) / (q95 - q5)
