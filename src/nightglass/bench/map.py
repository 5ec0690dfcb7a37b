"""The map of a lens: blur over focal length, f-number and place; zoom positions that stand out."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from nightglass.bench.records import SettingResult, ZoneResult

JUMP_RATIO = 1.25
"""Least blur over that of the neighbours: a quarter more, about the least that a picture shows
(common practice)."""
JUMP_SIGMAS = 3.0
"""Least distance in errors of the ratio: a map holds tens of cells, of which 2 sigma would flag
some by chance."""


@dataclass(frozen=True)
class LensMap:
    """All measured zones of a lens by (focal length, f-number, place)."""

    lens: str
    focal_mm: tuple[float, ...]
    f_numbers: tuple[float, ...]
    places: tuple[str, ...]
    zones: Mapping[tuple[float, float, str], ZoneResult]


@dataclass(frozen=True)
class ZoomJump:
    """A zoom position whose blur stands out against those on either side of it."""

    lens: str
    focal_mm: float
    place: str
    f_number: float
    """The f-number at which it stands out most."""
    ratio: float
    """Its length over that of the neighbours, interpolated."""
    ratio_err: float
    neighbours_mm: tuple[float, float]


def lens_map(results: Sequence[SettingResult], lens: str) -> LensMap:
    """Return the map of a lens. Raises ValueError for a lens without results."""
    zones = {
        (result.setting.focal_mm, result.setting.f_number, zone.place): zone
        for result in results
        if result.setting.lens == lens
        for zone in result.zones
    }
    if not zones:
        known = ", ".join(sorted({result.setting.lens for result in results})) or "none"
        raise ValueError(f'no results for the lens "{lens}"; measured: {known}')
    places = dict.fromkeys(
        zone.place for result in results if result.setting.lens == lens for zone in result.zones
    )
    return LensMap(
        lens,
        tuple(sorted({focal for focal, _, _ in zones})),
        tuple(sorted({f_number for _, f_number, _ in zones})),
        tuple(places),
        zones,
    )


def zoom_jumps(results: Sequence[SettingResult], lens: str) -> tuple[ZoomJump, ...]:
    """Return the zoom positions of a lens that are blurred against both neighbours beyond error.

    At one f-number (or wide open, where it changes with the zoom) and place, the length is held
    against the line between the neighbouring focal lengths, in logarithms: at least 1.25 times,
    by at least 3 errors. One jump for each position and place, the clearest. Positions at the
    ends of the zoom have one neighbour and are not judged. Zones at limit count with their upper
    bound as neighbours, so that they never make a jump.
    """
    chart = lens_map(results, lens)
    found: dict[tuple[float, str], ZoomJump] = {}
    for place in chart.places:
        for row in _rows(chart, place):
            for jump in _jumps_in(row, lens, place):
                key = jump.focal_mm, place
                if key not in found or jump.ratio > found[key].ratio:
                    found[key] = jump
    return tuple(found[key] for key in sorted(found))


_Row = list[tuple[float, float, ZoneResult]]
"""(focal length, f-number, zone), rising."""


def _rows(chart: LensMap, place: str) -> list[_Row]:
    """Zones to be compared along the zoom: at each f-number, and wide open."""
    by_f_number: dict[float, _Row] = defaultdict(list)
    wide_open: dict[float, tuple[float, float, ZoneResult]] = {}
    for (focal, f_number, where), zone in sorted(chart.zones.items(), key=lambda item: item[0]):
        if where == place:
            by_f_number[f_number].append((focal, f_number, zone))
            wide_open.setdefault(focal, (focal, f_number, zone))
    return [*by_f_number.values(), list(wide_open.values())]


def _jumps_in(row: _Row, lens: str, place: str) -> list[ZoomJump]:
    jumps = []
    for before, here, after in zip(row, row[1:], row[2:], strict=False):
        ratio = _ratio_to_line(before, here, after)
        if ratio is None:
            continue
        value, err = ratio
        if value >= JUMP_RATIO and math.log(value) >= JUMP_SIGMAS * err:
            neighbours = before[0], after[0]
            jumps.append(ZoomJump(lens, here[0], place, here[1], value, value * err, neighbours))
    return jumps


def _ratio_to_line(
    before: tuple[float, float, ZoneResult],
    here: tuple[float, float, ZoneResult],
    after: tuple[float, float, ZoneResult],
) -> tuple[float, float] | None:
    """Length over that on the line between the neighbours, and the error of its logarithm."""
    size = here[2].length_px
    if size.value is None or size.err is None:
        return None
    sides = [_log_size(side[2]) for side in (before, after)]
    share = math.log(here[0] / before[0]) / math.log(after[0] / before[0])
    line, variance = 0.0, (size.err / size.value) ** 2
    for weight, side in zip((1 - share, share), sides, strict=True):
        if side is None:
            return None
        line += weight * side[0]
        variance += (weight * side[1]) ** 2
    return size.value / math.exp(line), math.sqrt(variance)


def _log_size(zone: ZoneResult) -> tuple[float, float] | None:
    size = zone.length_px
    if size.value is not None and size.err is not None:
        return math.log(size.value), size.err / size.value
    if size.value is None and size.at_most is not None:
        return math.log(size.at_most), 0.0
    return None
