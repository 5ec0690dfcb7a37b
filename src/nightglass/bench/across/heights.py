"""Places of two bodies at the same image height: which of them may be compared."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from nightglass.bench.records import ZoneResult
from nightglass.gear.body import Body

TOLERANCE_PERCENT = 5.0
"""How far apart on the sensors two places may lie, % of the lower picture height: our own choice;
what the blur changes over so short a way goes into the interval."""


@dataclass(frozen=True)
class PlacedZone:
    """A zone with its place on the sensor, from the frame's centre, y down [mm]."""

    zone: ZoneResult
    x_mm: float
    y_mm: float

    @property
    def height_mm(self) -> float:
        """Image height."""
        return math.hypot(self.x_mm, self.y_mm)


@dataclass(frozen=True)
class Partners:
    """Two places that may be compared."""

    one: PlacedZone
    other: PlacedZone
    same_side: bool
    """Whether they are the same place of the image, not only at the same height."""
    apart_mm: float


def tolerance_mm(bodies: Sequence[Body]) -> float:
    """Return how far apart two places of these bodies may lie [mm]."""
    return TOLERANCE_PERCENT / 100 * min(b.picture_height_px * b.pitch_um / 1000 for b in bodies)


def placed(zone: ZoneResult, body: Body) -> PlacedZone:
    """Return a zone with its place on a body's sensor."""
    x = (zone.x_px - (body.width_px - 1) / 2) * body.pitch_um / 1000
    y = (zone.y_px - (body.height_px - 1) / 2) * body.pitch_um / 1000
    return PlacedZone(zone, x, y)


def partners(
    ones: Sequence[PlacedZone], others: Sequence[PlacedZone], within_mm: float
) -> tuple[Partners, ...]:
    """Return the places that may be compared, each at most once, the nearest first choice.

    The same place of the image comes before another one at the same height: a decentred lens
    differs from side to side.
    """
    possible = []
    for i, one in enumerate(ones):
        for k, other in enumerate(others):
            apart = math.hypot(one.x_mm - other.x_mm, one.y_mm - other.y_mm)
            higher = abs(one.height_mm - other.height_mm)
            if apart <= within_mm:
                possible.append((0, apart, i, k))
            elif higher <= within_mm:
                possible.append((1, higher, i, k))
    found: dict[int, Partners] = {}
    taken: set[int] = set()
    for elsewhere, apart, i, k in sorted(possible):
        if i not in found and k not in taken:
            found[i] = Partners(ones[i], others[k], not elsewhere, apart)
            taken.add(k)
    return tuple(found[i] for i in sorted(found))


def percent_in_frame(zone: PlacedZone, body: Body) -> tuple[float, float] | None:
    """Return where a place would stand in another body's frame, % of width and of height.

    None where it lies outside.
    """
    x, y = 50 + 100 * zone.x_mm / body.width_mm, 50 + 100 * zone.y_mm / body.height_mm
    return (x, y) if 0 <= x <= 100 and 0 <= y <= 100 else None


def slope_per_mm(zones: Sequence[PlacedZone]) -> float:
    """Return by how much ln(length) changes per mm of image height, at most, over these places.

    0 where fewer than two heights were measured.
    """
    known = [(z.height_mm, z.zone.length_px.value) for z in zones if z.zone.length_px.value]
    if len(known) < 2:
        return 0.0
    heights, lengths = zip(*known, strict=True)
    span = max(heights) - min(heights)
    return math.log(max(lengths) / min(lengths)) / span if span > 0 else 0.0
