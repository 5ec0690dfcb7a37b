"""What a viewer sees of the stars at a place: points, drawn out, or streaks.

Lengths are compared with what the eye makes of a perfect point, by one measure for both: spot,
trail and eye widen a star as Gaussians do, by the sum of their second moments along each axis. A
measured length stands for a Gaussian that holds the same 90 % of its light within it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike

from nightglass.bench.records import ZoneResult
from nightglass.gear.body import Body
from nightglass.gear.lens import Lens
from nightglass.optics.arrays import Floats
from nightglass.optics.extent import GAUSSIAN_LENGTH
from nightglass.verdict.blur import (
    ring_weights,
    stamp_direction,
)
from nightglass.verdict.frame_light import FrameLight
from nightglass.verdict.paths import trails_px
from nightglass.verdict.view.eye import Eye

POINTS_UP_TO, DRAWN_OUT_UP_TO = 1.5, 3.0
"""Viewed length in widths of the eye."""


class Shape(StrEnum):
    """How a star looks to a viewer."""

    POINTS = "points"
    DRAWN_OUT = "drawn out"
    STREAKS = "streaks"


@dataclass(frozen=True)
class Look:
    """How the stars of a setting look for one purpose; lengths in widths of the eye."""

    purpose: str
    typical: Shape
    typical_widths: float
    """Median over the tested area of the frame."""
    worst: Shape
    worst_widths: float
    worst_place: str
    """The measured place where stars look longest."""


def shape_of(widths: float) -> Shape:
    """Return the word for a viewed length in widths of the eye: 1.5 and 3 still count below."""
    if widths <= POINTS_UP_TO:
        return Shape.POINTS
    return Shape.DRAWN_OUT if widths <= DRAWN_OUT_UP_TO else Shape.STREAKS


def viewed_widths(
    zone: ZoneResult, sigma_px: float, trail_px: ArrayLike, angle_degrees: ArrayLike
) -> Floats:
    """Return the viewed length of a zone's spot under trails, in widths of the eye: their shape.

    angle_degrees: of the trails against the stamp's x axis. A perfect point gives 1.
    """
    trail, angle = (np.asarray(v, dtype=np.float64) for v in (trail_px, angle_degrees))
    return np.asarray(np.sqrt(1 + _largest_moments([zone], trail, angle)[0] / sigma_px**2))


def _largest_moments(
    zones: Sequence[ZoneResult], trail_px: Floats, angle_degrees: Floats
) -> Floats:
    """The larger principal second moment [px^2] of each zone's spot under trails: zones first."""
    lengths = [zone.length_px.bound or 0.0 for zone in zones]
    widths = [zone.width_px.value for zone in zones]
    narrow = [n if w is None else min(w, n) for w, n in zip(widths, lengths, strict=True)]
    shape = len(zones), *(1,) * np.ndim(trail_px)
    along, across = ((np.array(v).reshape(shape) / GAUSSIAN_LENGTH) ** 2 for v in (lengths, narrow))
    own = np.array([zone.angle_degrees.value or 0.0 for zone in zones]).reshape(shape)
    turn, line = np.radians(angle_degrees - own), trail_px**2 / 12
    # Second moments in the spot's own axes, and the larger of their principal ones.
    cosine, sine = np.cos(turn), np.sin(turn)
    xx, yy, xy = along + line * cosine**2, across + line * sine**2, line * sine * cosine
    return np.asarray((xx + yy) / 2 + np.sqrt(((xx - yy) / 2) ** 2 + xy**2))


def looks(
    light: FrameLight,
    zones: Sequence[ZoneResult],
    body: Body,
    lens: Lens,
    focal_mm: float,
    eyes: Sequence[Eye],
) -> tuple[Look, ...]:
    """Return how the stars of a setting look for each purpose, trails included.

    zones: those with a length. The worst place is a measured one under its own place's trail.
    Raises ValueError without zones.
    """
    if not zones:
        raise ValueError("no zone has a length: measure at least one place of the frame")
    trail_px, direction = light.trail_px, light.trail_degrees
    at = np.degrees(np.arctan2(light.y_mm, light.x_mm))
    against = np.array([stamp_direction(zone, body, at, direction) for zone in zones])
    pitch_mm = body.pitch_um / 1000
    x = np.array([(zone.x_px - (body.width_px - 1) / 2) * pitch_mm for zone in zones])
    y = np.array([(zone.y_px - (body.height_px - 1) / 2) * pitch_mm for zone in zones])
    own_px, own_angle = trails_px(x, y, light.exposure_s, body, lens, focal_mm)
    weights = ring_weights(zones, light.field_radius)
    over = _largest_moments(zones, trail_px, against)
    own = np.diagonal(_largest_moments(zones, own_px, own_angle))
    found = []
    for eye in eyes:
        spread, at_zones = (np.sqrt(1 + m / eye.sigma_px(body) ** 2) for m in (over, own))
        found.append(_look(eye, (weights * spread).sum(axis=0), at_zones, zones))
    return tuple(found)


def _look(eye: Eye, over: Floats, at_zones: Floats, zones: Sequence[ZoneResult]) -> Look:
    """over: viewed lengths at the cells, nan where untested; at_zones: at the measured places."""
    tested = over[~np.isnan(over)]
    worst = int(np.argmax(at_zones))
    worst_widths = float(at_zones[worst])
    # Cells may all lie too far from a single measured place: then it speaks for itself alone.
    typical = float(np.median(tested)) if tested.size else worst_widths
    return Look(
        eye.words,
        shape_of(typical),
        typical,
        shape_of(worst_widths),
        worst_widths,
        zones[worst].place,
    )
