"""Places of one setting at equal field radius: what a sound lens draws alike."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from nightglass.bench.records import SettingResult, ZoneResult
from nightglass.gear.body import Body

LEAST_RADIUS = 0.3
"""Nearer to the centre places do not lie on different sides."""
RING_WIDTH = 0.12
"""Places whose field radii differ by up to this share a ring: aims miss by a few % of height."""
LEAST_TURN_DEGREES = 60.0
"""Two places of a ring at least must lie this far apart around the centre."""
POWER_INSIDE, POWER_INSIDE_ERR = 1.0, 1.0
"""Blur grows as field radius to this power: 1 coma, 2 astigmatism and curvature; design/copies.py
tries both. It stands in where no place farther in was measured."""
POWER_ERR = 0.6
MOST_POWER = 3.0
METHOD_PX = 0.1
"""What a measured length may be off for one shape against another (the bias that one frame
promises, docs/glossary.md)."""


@dataclass(frozen=True)
class RingPlace:
    """One place of a ring."""

    place: str
    azimuth_degrees: float
    """0 right, 90 down."""
    length_px: float
    log_length: float
    """ln(length), brought to the ring's radius."""
    log_err: float
    """1-sigma of what repeats do not show: the aim and the method."""
    repeats: float
    """Frames that a plain mean of the same error would take."""
    groups: tuple[tuple[float, ...], ...]
    """Lengths of the single repeats [px]; those with the camera rolled apart from the others."""
    at_limit: bool
    roll_log: float | None = None
    """Half of ln(length) unrolled over rolled; None without frames of both."""


@dataclass(frozen=True)
class Ring:
    """Places at one field radius."""

    field_radius: float
    places: tuple[RingPlace, ...]


def rings_of(result: SettingResult, body: Body) -> tuple[Ring, ...]:
    """Return the rings of a setting that hold two places or more on different sides, inner first.

    A place at limit counts with its upper bound, and never as longer than one that was measured.
    """
    zones = sorted(
        (z for z in result.zones if z.length_px.bound), key=lambda z: (z.field_radius, z.place)
    )
    groups: list[list[ZoneResult]] = []
    for zone in zones:
        if zone.field_radius < LEAST_RADIUS:
            continue
        if groups and zone.field_radius - groups[-1][0].field_radius <= RING_WIDTH:
            groups[-1].append(zone)
        else:
            groups.append([zone])
    rings = [_ring(group, zones, body) for group in groups if len(group) > 1]
    return tuple(ring for ring in rings if _around(ring))


def _ring(group: Sequence[ZoneResult], zones: Sequence[ZoneResult], body: Body) -> Ring:
    radius = sum(zone.field_radius for zone in group) / len(group)
    lengths = _lengths(group)
    power, power_err = _power(radius, lengths, zones)
    places = []
    for zone, length in zip(group, lengths, strict=True):
        out = math.log(zone.field_radius / radius)
        groups = groups_of(zone)
        means = [sum(map(math.log, group)) / len(group) for group in groups]
        both = len(groups) == 2
        places.append(
            RingPlace(
                place=zone.place,
                azimuth_degrees=azimuth_degrees(zone, body),
                length_px=length,
                log_length=(sum(means) / 2 if both else math.log(length)) - power * out,
                log_err=math.hypot(power_err * out, METHOD_PX / length),
                repeats=_repeats(zone, groups),
                groups=groups,
                at_limit=zone.length_px.value is None,
                roll_log=(means[0] - means[1]) / 2 if both else None,
            )
        )
    return Ring(radius, tuple(places))


def groups_of(zone: ZoneResult) -> tuple[tuple[float, ...], ...]:
    """Return the lengths of a zone's repeats [px]: those with the camera rolled apart."""
    values = zone.length_px.values
    rolled = zone.rolled if len(zone.rolled) == len(values) else (False,) * len(values)
    parts = (
        tuple(v for v, turned in zip(values, rolled, strict=True) if turned is way and v > 0)
        for way in (False, True)
    )
    return tuple(part for part in parts if part)


def _repeats(zone: ZoneResult, groups: Sequence[tuple[float, ...]]) -> float:
    if len(groups) == 2:
        # The mean of two means: each way of holding the camera counts alike.
        return 4 / sum(1 / len(group) for group in groups)
    return float(max(1, len(zone.length_px.values) or zone.frames))


def azimuth_degrees(zone: ZoneResult, body: Body) -> float:
    """Return the direction from the frame's centre to a zone: 0 right, 90 down, below 360."""
    dx, dy = zone.x_px - (body.width_px - 1) / 2, zone.y_px - (body.height_px - 1) / 2
    return math.degrees(math.atan2(dy, dx)) % 360


def _lengths(group: Sequence[ZoneResult]) -> list[float]:
    measured = [zone.length_px.value for zone in group if zone.length_px.value]
    least = min(measured, default=math.inf)
    return [zone.length_px.value or min(zone.length_px.at_most or least, least) for zone in group]


def _power(
    radius: float, lengths: Sequence[float], zones: Sequence[ZoneResult]
) -> tuple[float, float]:
    """How steeply blur grows with field radius at a ring, from the nearest place farther in."""
    inside = [z for z in zones if z.field_radius < radius - RING_WIDTH]
    if not inside:
        return POWER_INSIDE, POWER_INSIDE_ERR
    next_in = max(inside, key=lambda zone: zone.field_radius)
    there = sum(math.log(length) for length in lengths) / len(lengths)
    rise = there - math.log(next_in.length_px.bound or math.exp(there))
    power = rise / (1 - next_in.field_radius / radius)
    return min(max(power, 0.0), MOST_POWER), POWER_ERR


def _around(ring: Ring) -> bool:
    turns = [place.azimuth_degrees for place in ring.places]
    apart = (abs((a - b + 180) % 360 - 180) for a in turns for b in turns)
    return max(apart) >= LEAST_TURN_DEGREES
