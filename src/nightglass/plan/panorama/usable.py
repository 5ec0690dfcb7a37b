"""How much of the frame is good enough, from what the bench measured."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from nightglass.bench.records import SettingResult
from nightglass.light.falloff import PupilFalloff
from nightglass.plan.camera import Shot

LEAST_SHARE = 0.3

USABLE_LIMIT_PERCENT = 0.25
"""Largest blur that a panorama keeps, % of picture height, unless the person sets a limit: common
practice."""


USABLE_LOSS_STOPS = 1.0
"""Star light that the rim of a panorama's frames may lack: past it a seam puts half the light
beside all of it (our choice)."""
RADII = 201


class NothingUsableError(ValueError):
    """The blur in the middle of the frame is over the limit: no panorama of this setting."""


def usable_share(zones: Sequence[tuple[float, float]], limit_percent: float) -> float:
    """Return the middle share of the frame's sides whose corners are still within a blur limit.

    zones: (field radius, blur in % of picture height), radius 0 centre to 1 corner; the worst
    zone of each radius counts. Between two radii the blur grows in a straight line; beyond the
    outermost zone nothing is known and nothing is promised. A middle rectangle of share s has its
    corners at field radius s. Raises ValueError when no zone was measured, NothingUsableError
    when the centre itself is over the limit.
    """
    if not zones:
        raise ValueError("no zone of this setting was measured: the usable share is not tested")
    worst: dict[float, float] = {}
    for radius, blur in zones:
        worst[radius] = max(worst.get(radius, 0.0), blur)
    ordered = sorted(worst.items())
    if ordered[0][1] > limit_percent:
        raise NothingUsableError(
            f"the innermost zone has a blur of {ordered[0][1]:.2f} %, over the limit of "
            f"{limit_percent:g} %: no part of the frame is usable; stop down or allow more"
        )
    share = ordered[0][0]
    for (r1, b1), (r2, b2) in pairwise(ordered):
        if b2 > limit_percent:
            share = r1 + (r2 - r1) * (limit_percent - b1) / (b2 - b1)
            break
        share = r2
    return max(LEAST_SHARE, min(1.0, share))


def lit_share(falloff: PupilFalloff) -> float:
    """Return the middle share of the frame's sides whose corners lose at most a stop of light."""
    radii = np.linspace(0.0, 1.0, RADII)
    dark = falloff.share(radii) < 2.0**-USABLE_LOSS_STOPS
    return max(LEAST_SHARE, float(radii[np.argmax(dark)])) if dark.any() else 1.0


def usable_of(
    result: SettingResult | None,
    shot: Shot,
    limit_percent: float | None = None,
    falloff: PupilFalloff | None = None,
) -> float | None:
    """Return the usable share of a setting from its blur on the bench and its measured falloff.

    None if neither says anything. limit_percent: largest blur that the person accepts; the usual
    one without. Raises as usable_share does.
    """
    lit = 1.0 if falloff is None else lit_share(falloff)
    if result is None:
        return lit if lit < 1 else None
    height_px = shot.body.picture_height_px
    zones = [
        (zone.field_radius, 100 * zone.length_px.bound / height_px)
        for zone in result.zones
        if zone.length_px.bound is not None
    ]
    return min(lit, usable_share(zones, limit_percent or USABLE_LIMIT_PERCENT))
