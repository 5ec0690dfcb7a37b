"""Zoom positions whose blur stands out against those beside them."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence

from nightglass.bench.records import SettingResult, ZoneResult
from nightglass.verdict.records import ZoomJump

JUMP_RATIO = 1.25
"""Least blur over that of the neighbours: a quarter more, about the least that a picture shows
(common practice)."""
JUMP_SIGMAS = 3.0
"""Least distance in errors of the ratio: a map holds tens of cells, of which 2 sigma would flag
some by chance."""
STEEPEST_SLOPE = 3.0
"""Blur falls on stopping down at most as f-number^-3 (spherical aberration; coma -2, defocus and
astigmatism -1): a neighbour measured only stopped down can't have been worse than that."""

_Size = tuple[float, float]
"""ln(length) and its error."""
_Along = dict[float, dict[float, _Size]]
"""Sizes at one place by focal length and f-number."""


def zoom_jumps(results: Sequence[SettingResult]) -> tuple[ZoomJump, ...]:
    """Return the zoom positions that are blurred against those beside them beyond error.

    At every place and f-number a length is held against the longer of the two neighbouring focal
    lengths: at least 1.25 times, by at least 3 errors. A neighbour without that f-number counts
    with the most that it can have there (most_at). The end of a zoom is held against the line, in
    logarithms, through the two positions beside it, or the nearer one if that is longer; so that
    neither a steady rise nor a zoom with two positions makes a jump. Zones at limit count with
    their upper bound as neighbours and never make a jump. One jump for each position of a lens:
    the clearest. Zones without a known error are left out.
    """
    maps: dict[tuple[str, str], _Along] = defaultdict(dict)
    bounds = set()
    for result in results:
        setting = result.setting
        for zone in result.zones:
            size = _size(zone)
            if size is not None:
                along = maps[setting.lens, zone.place]
                along.setdefault(setting.focal_mm, {})[setting.f_number] = size
                if zone.length_px.value is None:
                    bounds.add((setting.lens, zone.place, setting.focal_mm, setting.f_number))
    found: dict[tuple[str, float], ZoomJump] = {}
    for (lens, place), along in maps.items():
        for focal_mm, stops in along.items():
            for f_number, (length, err) in stops.items():
                beside = _beside(along, focal_mm, f_number)
                if beside is None or (lens, place, focal_mm, f_number) in bounds:
                    continue
                over, error = length - beside[0], math.hypot(err, beside[1])
                if over < max(math.log(JUMP_RATIO), JUMP_SIGMAS * error):
                    continue
                ratio = math.exp(over)
                known = found.get((lens, focal_mm))
                if known is None or ratio > known.ratio:
                    found[lens, focal_mm] = ZoomJump(
                        lens, focal_mm, place, f_number, ratio, ratio * error
                    )
    return tuple(found[key] for key in sorted(found))


def most_at(f_number: float, size_by_stop: Mapping[float, _Size]) -> _Size:
    """Return the most blur that a zoom position can have at an f-number, as ln(length) and error.

    As measured there; else no more than wider open, and from stopped down no steeper than
    f-number^-3.
    """
    if f_number in size_by_stop:
        return size_by_stop[f_number]
    return min(
        (length + STEEPEST_SLOPE * max(0.0, math.log(stop / f_number)), err)
        for stop, (length, err) in size_by_stop.items()
    )


def _beside(along: _Along, focal_mm: float, f_number: float) -> _Size | None:
    """What the neighbours allow at a focal length and f-number."""
    focals = sorted(along)
    k = focals.index(focal_mm)
    if len(focals) < 3:
        return None
    if 0 < k < len(focals) - 1:
        return max(most_at(f_number, along[focals[j]]) for j in (k - 1, k + 1))
    near_mm, far_mm = (focals[1], focals[2]) if k == 0 else (focals[-2], focals[-3])
    near, far = most_at(f_number, along[near_mm]), most_at(f_number, along[far_mm])
    reach = math.log(focal_mm / near_mm) / math.log(near_mm / far_mm)
    line = near[0] + reach * (near[0] - far[0])
    if line <= near[0]:
        return near
    return line, math.hypot((1 + reach) * near[1], reach * far[1])


def _size(zone: ZoneResult) -> _Size | None:
    length = zone.length_px.bound
    if length is None:
        return None
    if zone.length_px.value is None:
        return math.log(length), 0.0
    err = zone.length_px.err
    return None if err is None else (math.log(length), err / length)
