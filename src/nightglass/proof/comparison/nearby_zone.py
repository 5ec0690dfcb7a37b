"""One place of the bench beside the zones of the sky: which of them count, and both sizes."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike
from scipy import ndimage

from nightglass.bench.records import ZoneResult
from nightglass.gear.body import Body
from nightglass.optics.arrays import Floats
from nightglass.optics.extent import LONG_RATIO, Extent, extent
from nightglass.proof.records import SkyFrame, ZoneKind
from nightglass.sky.zones.zone import ZONE_COLUMNS, ZONE_ROWS, Zone

NEAR_PERCENT = 30.0
"""How far the middle of a zone beside the one that holds the bench's place may lie from it, % of
picture height: the sky has 3 by 5 zones, whose corners lie 22 % from their middle."""

SAME_RADIUS = 0.15
"""Field radius within which a zone elsewhere in the frame stands in for a place."""

MOST_CARRIED = 0.4
"""Largest change of ln(size) from a zone's middle to the bench's place that is believed."""

FINER = 4
"""Samples per pixel to which a bench spot is brought before it is measured."""


def zones_there(
    bench: ZoneResult, frames: Sequence[SkyFrame], body: Body
) -> tuple[list[tuple[float, float, float]], list[Zone], ZoneKind]:
    """Return sizes_at of each frame's zone at a place, these zones, and where the farthest of them
    lies. Zones elsewhere count only where no frame has one there or beside."""
    seen = [
        (*found, frame)
        for frame in frames
        if (found := zone_at(bench, frame.zones, body)) is not None
    ]
    used = [one for one in seen if one[1] != "elsewhere"] or seen
    sizes = [sizes_at(bench, zone, frame.zones, kind) for zone, kind, frame in used]
    kinds = {kind for _, kind, _ in used}
    farthest: ZoneKind = "here"
    if "elsewhere" in kinds:
        farthest = "elsewhere"
    elif "beside" in kinds:
        farthest = "beside"
    return sizes, [zone for zone, _, _ in used], farthest


def zone_at(bench: ZoneResult, zones: Sequence[Zone], body: Body) -> tuple[Zone, ZoneKind] | None:
    """Return the measured zone that holds the bench's place, else one beside it, else one as far
    from the centre, and which of these it is; None where there is none."""
    measured = [zone for zone in zones if zone.length_px]
    if not measured:
        return None
    holding = [zone for zone in measured if _holds(zone, bench, body)]
    nearest = min(holding or measured, key=lambda zone: away_percent(bench, zone, body))
    if holding:
        return nearest, "here"
    if away_percent(bench, nearest, body) <= NEAR_PERCENT:
        return nearest, "beside"
    alike = min(measured, key=lambda zone: abs(zone.field_radius - bench.field_radius))
    same = abs(alike.field_radius - bench.field_radius) <= SAME_RADIUS
    return (alike, "elsewhere") if same else None


def _holds(zone: Zone, bench: ZoneResult, body: Body) -> bool:
    half_x = 0.5 * zone.columns * body.width_px / ZONE_COLUMNS
    half_y = 0.5 * body.height_px / ZONE_ROWS
    return abs(bench.x_px - zone.x_px) <= half_x and abs(bench.y_px - zone.y_px) <= half_y


def away_percent(bench: ZoneResult, zone: Zone, body: Body) -> float:
    """Return how far a zone's middle lies from the bench's place, % of picture height."""
    away = math.hypot(bench.x_px - zone.x_px, bench.y_px - zone.y_px)
    return 100 * away / body.picture_height_px


def trail_of(zone: Zone) -> tuple[float, float]:
    """Return the trail of a zone's stars, end minus start [px]."""
    return zone.trail_seen_px or zone.trail_expected_px or (0.0, 0.0)


def sizes_at(
    bench: ZoneResult, zone: Zone, zones: Sequence[Zone], kind: ZoneKind
) -> tuple[float, float, float]:
    """Return sizes [px] of bench and sky, the lens alone at the bench's place, and the sky's error
    of ln(size)."""
    stamp = spot_extent(finer(bench.stamp if bench.stamp is not None else np.zeros((1, 1))), FINER)
    length, width = zone.length_px or 1.0, zone.width_px or zone.length_px or 1.0
    long = min(stamp.length_px / stamp.width_px, length / width) > LONG_RATIO
    size = stamp.length_px if long else math.sqrt(stamp.length_px * stamp.width_px)
    err = (zone.length_px_err or 0.0) / length
    if kind == "elsewhere":
        return size, zone_size(zone, long), err
    change, worse = carried(bench, zone, zones, long)
    return size, zone_size(zone, long) * math.exp(change), err * worse


def zone_size(zone: Zone, long: bool) -> float:
    """Return the size [px] that counts: the length of a long spot, else the root of both."""
    length, width = zone.length_px or 1.0, zone.width_px or zone.length_px or 1.0
    return length if long else math.sqrt(length * width)


def carried(
    bench: ZoneResult, zone: Zone, zones: Sequence[Zone], long: bool
) -> tuple[float, float]:
    """Return the change of ln(size) from a zone's middle to the bench's place, by the zones beside
    it, and by what factor the error grows."""
    change, own, others = 0.0, 1.0, 0.0
    for step in ((0, 1), (1, 0)):
        away = bench.x_px - zone.x_px if step == (0, 1) else bench.y_px - zone.y_px
        beside = [
            other
            for other in zones
            if other.length_px
            and (abs(other.row - zone.row), abs(other.column - zone.column)) == step
        ]
        if not beside:
            continue
        # The far neighbours of a middle zone tell most; a corner zone has one on each side.
        low, high = beside[0], beside[-1] if len(beside) > 1 else zone
        span = (high.x_px - low.x_px) if step == (0, 1) else (high.y_px - low.y_px)
        part = away / span
        change += part * math.log(zone_size(high, long) / zone_size(low, long))
        if high is zone:
            own += part
            others += part * part
        else:
            others += 2 * part * part
    if abs(change) > MOST_CARRIED:
        return 0.0, 1.0
    return change, math.sqrt(own * own + others)


def finer(stamp: ArrayLike) -> Floats:
    """Return a spot of 1 px steps with FINER samples per pixel, by cubic splines.

    Measured at its own steps it would come out up to 3 % off against the sky's finer spot.
    """
    spot = np.asarray(stamp, dtype=np.float64)
    wanted = [(side - 1) * FINER + 1 for side in spot.shape]
    factors = [new / old for new, old in zip(wanted, spot.shape, strict=True)]
    return np.asarray(ndimage.zoom(spot, factors, order=3), dtype=np.float64)


def spot_extent(image: ArrayLike, fine: int = 1) -> Extent:
    """Return the measures of a spot with `fine` samples per pixel.

    Room is added around it, so that the ring of the background lies beside the light. Raises
    ValueError for an image without light.
    """
    spot = np.asarray(image, dtype=np.float64)
    return extent(np.pad(spot, 2 * max(spot.shape) // 3), 1 / fine)
