"""The zones of a frame: what is known of the lens and the motion in each."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from nightglass.light.defaults import EARTH_ROTATION_RAD_S
from nightglass.optics.arrays import Floats, Floats32, Ints64
from nightglass.sky.astrometry.camera import places_px, pole_of_date, turned, vectors_at
from nightglass.sky.astrometry.refine import Solution
from nightglass.sky.zones.codes import ZoneReason

STRONG_SNR = 100.0
"""From which a star's noise hides less of its shape than how it fell on the mosaic."""
ZONE_ROWS, ZONE_COLUMNS = 3, 5
LEAST_SNR, LEAST_STARS = 12.0, 5
"""Of one star, and of the stars of a zone; see members."""


@dataclass(frozen=True)
class Zone:
    """The lens and the motion in one zone of the frame [px]; None where it can't be known."""

    row: int
    column: int
    x_px: float
    y_px: float
    field_radius: float
    stars: int
    columns: int = 1
    """How many columns of the frame's zones it covers: two where each alone has too few stars."""
    length_px: float | None = None
    length_px_err: float | None = None
    width_px: float | None = None
    width_px_err: float | None = None
    angle_degrees: float | None = None
    radial_angle_degrees: float | None = None
    """0 radial, 90 tangential."""
    lean: float | None = None
    lean_err: float | None = None
    red_offset_px: tuple[float, float] | None = None
    blue_offset_px: tuple[float, float] | None = None
    offset_err_px: float | None = None
    trail_expected_px: tuple[float, float] | None = None
    """End minus start, mean of the zone's stars."""
    trail_seen_px: tuple[float, float] | None = None
    trail_err_px: tuple[float, float] | None = None
    image: Floats32 | None = None
    """The lens's spot, FINE samples per pixel, sum 1."""
    reason: ZoneReason | None = None
    """Why nothing is known of it."""


@dataclass(frozen=True)
class Group:
    """The samples of a zone's stars."""

    zone: Zone
    places: Floats
    trails: Floats
    first: Ints64
    samples: Floats
    snr: Floats
    """(stars,)."""
    turns: Floats
    """(stars, 2): cosine and sine over size of the turn from the spot at the zone's middle to that
    at a star's place; (1, 0) until it is known how spots change over the frame."""
    spread: Floats
    """Median second moments (2, 2) [px^2]."""
    uneven: float = 0.0
    """Scatter of ln(size) of the frame's zones about what is known of its change over the frame."""


def expected_trails(
    solution: Solution, x_px: Floats, y_px: Floats, exposure_s: float, year: float = 2026.0
) -> Floats:
    """Return end minus start (n, 2) [px] of the paths of stars whose middles are given.

    exposure_s: true seconds. Raises ValueError for a negative time.
    """
    if exposure_s < 0:
        raise ValueError(f"exposure_s is {exposure_s:g}; an exposure is 0 or longer")
    vectors = vectors_at(solution.camera, solution.rotation, x_px, y_px)
    half = EARTH_ROTATION_RAD_S * exposure_s / 2
    # Westward: against the right-handed sense about the pole.
    pole = pole_of_date(year)
    start = turned(vectors, pole, np.full(len(vectors), half))
    end = turned(vectors, pole, np.full(len(vectors), -half))
    x0, y0 = places_px(solution.camera, solution.rotation, start)
    x1, y1 = places_px(solution.camera, solution.rotation, end)
    return np.stack([x1 - x0, y1 - y0], axis=1)


def together(snr: Floats) -> float:
    """Return the SNR of several stars together."""
    return math.sqrt(float(np.sum(np.square(snr, dtype=np.float64))))


def strong_stars(snr: Floats) -> float:
    """Return how many strong stars would tell as much of a spot's fall on the mosaic."""
    return float(np.sum(np.minimum(snr / STRONG_SNR, 1.0) ** 2))
