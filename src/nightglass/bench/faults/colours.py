"""Lateral colour: how far red and blue stars lie from the green one."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from nightglass.bench.records import Combined, SettingResult

LEAST_PX = 1.0
"""Offsets are distances, never negative: two centres of 0.25 px each (Bayer, docs/glossary.md) show
half a pixel where there is none, in the demo up to 0.7."""
LEAST_RADIUS = 0.3
"""In the middle of the frame there is no lateral colour."""
LEAST_SIGMAS = 3.0


@dataclass(frozen=True)
class ColourFinding:
    """Offsets of one place of a lens; they do not change with the f-number, so all count."""

    focal_mm: float
    place: str
    red_px: float | None
    red_px_err: float | None
    blue_px: float | None
    blue_px_err: float | None
    shown: bool
    """Whether one of them is over a pixel and over 3 errors."""


def colours_of(results: Sequence[SettingResult]) -> tuple[ColourFinding, ...]:
    """Return the offsets of one lens at each focal length and place off the centre."""
    found = []
    keys = dict.fromkeys(
        (r.setting.focal_mm, zone.place)
        for r in results
        for zone in r.zones
        if zone.field_radius >= LEAST_RADIUS
    )
    for focal_mm, place in keys:
        zones = [
            zone
            for r in results
            if r.setting.focal_mm == focal_mm
            for zone in r.zones
            if zone.place == place
        ]
        red = _mean([zone.colour_offset_red_px for zone in zones])
        blue = _mean([zone.colour_offset_blue_px for zone in zones])
        if red[0] is not None or blue[0] is not None:
            shown = _shown(*red) or _shown(*blue)
            found.append(ColourFinding(focal_mm, place, *red, *blue, shown))
    return tuple(found)


def _mean(several: Sequence[Combined]) -> tuple[float | None, float | None]:
    known = [(one.value, one.err) for one in several if one.value is not None and one.err]
    if not known:
        return None, None
    weights = [1 / err**2 for _, err in known]
    mean = sum(w * value for w, (value, _) in zip(weights, known, strict=True)) / sum(weights)
    return mean, 1 / math.sqrt(sum(weights))


def _shown(value: float | None, err: float | None) -> bool:
    return value is not None and err is not None and value > max(LEAST_PX, LEAST_SIGMAS * err)
