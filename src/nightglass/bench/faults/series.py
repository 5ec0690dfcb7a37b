"""The f-number series of a lens: its settings of one focal length, place by place."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from nightglass.bench.faults.shape import ShapeFinding
from nightglass.bench.faults.stops import Stop, StopsFinding, stops_finding
from nightglass.bench.records import SettingResult, ZoneResult
from nightglass.gear.dial import exact_f_number

LEAST_F_NUMBERS = 2
Seen = tuple[SettingResult, ZoneResult, ShapeFinding]


def series_of(
    settings: Sequence[tuple[SettingResult, Sequence[ShapeFinding]]], pitch_um: float
) -> tuple[StopsFinding, ...]:
    """Return what each place of a lens with two f-numbers or more says over them.

    settings: of one lens, with the shape at each of its zones.
    """
    places: dict[tuple[float, str], list[Seen]] = {}
    for result, shapes in settings:
        for zone, shape in zip(result.zones, shapes, strict=True):
            places.setdefault((result.setting.focal_mm, zone.place), []).append(
                (result, zone, shape)
            )
    return tuple(
        replace(
            stops_finding(focal_mm, place, [s for one in seen for s in _stop(*one)], pitch_um),
            refocused=_refocused([zone for _, zone, _ in seen]),
        )
        for (focal_mm, place), seen in places.items()
        if len(seen) >= LEAST_F_NUMBERS
    )


def _stop(result: SettingResult, zone: ZoneResult, shape: ShapeFinding) -> list[Stop]:
    length = zone.length_px
    if length.value is None or length.err is None:
        return []
    mark = result.setting.f_number
    err = length.err / length.value
    exact = exact_f_number(mark)
    return [Stop(mark, exact, length.value, err, shape.probabilities, zone.source_px or 0.0)]


def _refocused(zones: Sequence[ZoneResult]) -> bool | None:
    said = {zone.refocused for zone in zones}
    if False in said:
        return False
    return None if None in said else True
