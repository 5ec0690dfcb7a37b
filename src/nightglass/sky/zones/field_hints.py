"""What the stars over the field say of focus and of the shape of the field."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from nightglass.sky.zones.codes import HintCode, SideVerdict
from nightglass.sky.zones.field import Field, Uneven, place_of
from nightglass.sky.zones.zone import Zone

NOT_SEEN_PERCENT = 0.01
"""Difference in % of picture height that nobody sees on a picture: common practice."""
RADIAL_UP_TO, TANGENTIAL_FROM = 30.0, 60.0
"""Of a star's long axis, from the direction outward [degrees]."""
SOFTER_MIDDLE = 1.25
"""Centre over the sharpest other zone from which focus or a curved field is worth a word."""
FAR_OUT_PERCENT = 0.4
"""Size of stars of a lens that is out of focus everywhere: on a bench under it is called good."""
RIM = 0.75
"""Of a zone's distance from the frame's middle over that of the farthest one: the rim."""
LEAST_OUTER, RIM_SHARE = 4, 0.75
"""Zones that speak of the field, and their share that must point one way."""


class StarTurn(StrEnum):
    """Where a star's long axis points."""

    ROUND = "round"
    RADIAL = "radial"
    SLANTING = "slanting"
    TANGENTIAL = "tangential"


@dataclass(frozen=True)
class FieldHint:
    """A code with its number; None where it has none."""

    code: HintCode
    size_percent: float | None = None
    """Size of the stars in the sharpest zone, % of picture height."""
    ratio: float | None = None
    """Size of the centre's stars over those of the sharpest other zone."""


def turn_of(zone: Zone) -> StarTurn:
    """Return where a zone's star points."""
    away = zone.radial_angle_degrees
    if away is None:
        return StarTurn.ROUND
    if away <= RADIAL_UP_TO:
        return StarTurn.RADIAL
    return StarTurn.TANGENTIAL if away >= TANGENTIAL_FROM else StarTurn.SLANTING


def side_verdict(found: Uneven, field: Field) -> SideVerdict:
    """Return whether the difference of two sides is real, and large enough to be seen."""
    if not found.real:
        return SideVerdict.NONE_SHOWN
    sizes = [zone.length_px for zone in field.measured if zone.length_px is not None]
    mean_percent = sum(sizes) / len(sizes) * field.percent
    if abs(found.ratio - 1) * mean_percent < NOT_SEEN_PERCENT:
        return SideVerdict.TOO_SMALL_TO_SEE
    return SideVerdict.SOFTER


def field_hints(field: Field) -> tuple[FieldHint, ...]:
    """Return hints on focus and the shape of the field; empty where the zones give none."""
    hints = []
    sizes = [_size(z) for z in field.measured]
    if sizes and min(sizes) * field.percent > FAR_OUT_PERCENT:
        percent = min(sizes) * field.percent
        hints.append(FieldHint(HintCode.FAR_OUT_OF_FOCUS, size_percent=percent))
    centre = [z for z in field.measured if place_of(z) == "centre"]
    outer = [z for z in field.measured if place_of(z) != "centre"]
    if centre and len(outer) >= LEAST_OUTER:
        ratio = min(map(_size, centre)) / min(map(_size, outer))
        if ratio > SOFTER_MIDDLE:
            hints.append(FieldHint(HintCode.SOFT_CENTRE, ratio=ratio))
    farthest = max((_from_middle(z, field) for z in field.zones), default=0.0)
    rim = [turn_of(z) for z in outer if _from_middle(z, field) >= RIM * farthest]
    for turn, code in (
        (StarTurn.RADIAL, HintCode.RADIAL_RIM),
        (StarTurn.TANGENTIAL, HintCode.TANGENTIAL_RIM),
    ):
        if len(rim) >= LEAST_OUTER and rim.count(turn) >= RIM_SHARE * len(rim):
            hints.append(FieldHint(code))
    return tuple(hints)


def _from_middle(zone: Zone, field: Field) -> float:
    return math.hypot(zone.x_px - (field.width_px - 1) / 2, zone.y_px - (field.height_px - 1) / 2)


def _size(zone: Zone) -> float:
    return math.sqrt((zone.length_px or 0.0) * (zone.width_px or 0.0))
