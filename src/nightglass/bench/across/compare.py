"""Every lens that was measured on several bodies, place by place at the same image height."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

from nightglass.bench.across.heights import (
    Partners,
    PlacedZone,
    partners,
    percent_in_frame,
    placed,
    slope_per_mm,
    tolerance_mm,
)
from nightglass.bench.across.pixel import PIXEL_SQUARES
from nightglass.bench.across.ratio import (
    MeanLength,
    measured_ratio,
    pixel_free_ratio,
    ratio_from_pixels,
)
from nightglass.bench.across.records import (
    BodiesReport,
    BodiesVerdict,
    PairNote,
    PlaceOnTwoBodies,
    RatioInterval,
    SizeOnBody,
    UnpairedPlace,
    UnpairedReason,
)
from nightglass.bench.combined.combine import POOL_LEAST_DOF, Repeats, Scatter, pooled_scatter
from nightglass.bench.records import SettingResult, ZoneResult
from nightglass.gear.body import Body

SOURCE_SHARE = 0.01
"""Sources of another size are told from this change of a length on."""
SOURCE_SQUARES = 3.29**2 / 16
"""Squares of its diameter that an even disc adds to the square of a Gaussian's length."""

Key = tuple[str, float, float]
"""Lens, focal length, f-number."""


@dataclass(frozen=True)
class _OnBody:
    """One body with all that was measured on it."""

    body: Body
    results: Mapping[Key, SettingResult]
    scatter: Mapping[str, Scatter | None]
    """Of a single repeat, by lens."""

    def zones(self, key: Key) -> list[PlacedZone]:
        return [placed(zone, self.body) for zone in self.results[key].zones]


def compare_bodies(
    bodies: Sequence[Body], results: Mapping[str, Sequence[SettingResult]]
) -> BodiesReport:
    """Return what the bodies of a bench say of each lens that two or more of them measured.

    bodies: in the order in which they are held against each other, the first with each of the
    others. results: by the body's name, of its own frames.
    """
    seen = [_on_body(body, results.get(body.name, ())) for body in bodies]
    pairs, unpaired = [], []
    for one, other in combinations([s for s in seen if s.results], 2):
        for key in sorted({*one.results, *other.results}):
            if _lens_on_both(key[0], one, other):
                found, left = _setting(key, one, other)
                pairs += found
                unpaired += left
    return BodiesReport(
        bodies=tuple(body.name for body in bodies),
        pairs=tuple(pairs),
        unpaired=tuple(unpaired),
        tolerance_mm=tolerance_mm(bodies),
        on_one_only=tuple(_on_one_only(seen)),
        refocused=all(_refocused(seen, pair) for pair in pairs),
    )


def _on_body(body: Body, results: Sequence[SettingResult]) -> _OnBody:
    by_lens: dict[str, list[Repeats]] = defaultdict(list)
    for result in results:
        by_lens[result.setting.lens] += [Repeats(zone.length_px.values) for zone in result.zones]
    whole = pooled_scatter(repeats for several in by_lens.values() for repeats in several)
    scatter = {
        lens: pooled_scatter(several, POOL_LEAST_DOF) or whole for lens, several in by_lens.items()
    }
    keyed = {(r.setting.lens, r.setting.focal_mm, r.setting.f_number): r for r in results}
    return _OnBody(body, keyed, scatter)


def _lens_on_both(lens: str, one: _OnBody, other: _OnBody) -> bool:
    return all(any(key[0] == lens for key in seen.results) for seen in (one, other))


def _on_one_only(seen: Sequence[_OnBody]) -> Iterator[tuple[str, str]]:
    bodies: dict[str, list[str]] = defaultdict(list)
    for one in seen:
        for lens in dict.fromkeys(key[0] for key in one.results):
            bodies[lens].append(one.body.name)
    yield from ((lens, names[0]) for lens, names in sorted(bodies.items()) if len(names) == 1)


def _setting(
    key: Key, one: _OnBody, other: _OnBody
) -> tuple[list[PlaceOnTwoBodies], list[UnpairedPlace]]:
    if key not in one.results or key not in other.results:
        has, lacks = (one, other) if key in one.results else (other, one)
        reason = UnpairedReason.SETTING_NOT_MEASURED
        return [], [_unpaired(key, zone, has, lacks, reason) for zone in has.zones(key)]
    zones = one.zones(key), other.zones(key)
    sized = [[zone for zone in several if _has_size(zone.zone)] for several in zones]
    found = partners(sized[0], sized[1], tolerance_mm((one.body, other.body)))
    slope = max(map(slope_per_mm, sized))
    pairs = [_pair(key, one, other, together, slope) for together in found]
    taken = {id(zone) for together in found for zone in (together.one, together.other)}
    left = [
        _unpaired(key, zone, own, against)
        for several, own, against in ((zones[0], one, other), (zones[1], other, one))
        for zone in several
        if id(zone) not in taken
    ]
    return pairs, left


def _has_size(zone: ZoneResult) -> bool:
    return zone.length_px.bound is not None


def _unpaired(
    key: Key,
    zone: PlacedZone,
    own: _OnBody,
    against: _OnBody,
    reason: UnpairedReason | None = None,
) -> UnpairedPlace:
    where = percent_in_frame(zone, against.body)
    if not _has_size(zone.zone):
        reason, where = UnpairedReason.NO_SIZE, None
    elif where is None:
        reason = UnpairedReason.OUTSIDE_THE_FRAME
    return UnpairedPlace(
        *key,
        body=own.body.name,
        place=zone.zone.place,
        height_mm=zone.height_mm,
        other_body=against.body.name,
        reason=reason or UnpairedReason.NOT_AT_THIS_HEIGHT,
        x_percent=where and where[0],
        y_percent=where and where[1],
    )


def _pair(
    key: Key, one: _OnBody, other: _OnBody, together: Partners, slope: float
) -> PlaceOnTwoBodies:
    sizes = _size(together.one, one.body), _size(together.other, other.body)
    notes = [] if together.same_side else [PairNote.OTHER_SIDE]
    means = _mean(key, together.one, one), _mean(key, together.other, other)
    if means[0] is None or means[1] is None:
        return PlaceOnTwoBodies(
            *key, *sizes, together.apart_mm, BodiesVerdict.AT_LIMIT, notes=tuple(notes)
        )
    away = slope * together.apart_mm
    left = pixel_free_ratio(means[0], means[1], away)
    notes += [PairNote.SOURCES_DIFFER] * _sources_differ(together, means[0], means[1])
    pixels, pixels_err = ratio_from_pixels(means[0], means[1])
    return PlaceOnTwoBodies(
        *key,
        *sizes,
        together.apart_mm,
        _verdict(left),
        ratio=measured_ratio(means[0], means[1], away),
        from_pixels=pixels,
        from_pixels_err=pixels_err,
        left=left,
        notes=tuple(notes),
    )


def _size(zone: PlacedZone, body: Body) -> SizeOnBody:
    length = zone.zone.length_px
    value, bound = length.value, length.at_most
    return SizeOnBody(
        body=body.name,
        place=zone.zone.place,
        x_mm=zone.x_mm,
        y_mm=zone.y_mm,
        frames=zone.zone.frames,
        length_px=value,
        length_um=None if value is None else value * body.pitch_um,
        length_percent=None if value is None else 100 * value / body.picture_height_px,
        length_err_px=length.err,
        length_at_most_um=None if bound is None else bound * body.pitch_um,
    )


def _mean(key: Key, zone: PlacedZone, seen: _OnBody) -> MeanLength | None:
    """The mean of repeats; None where they are at limit, or no longer than pixels make."""
    length, pitch = zone.zone.length_px, seen.body.pitch_um
    if length.value is None or length.value**2 <= PIXEL_SQUARES:
        return None
    shared = zone.zone.shared
    left = 0.0 if shared is None else math.hypot(*shared.length, shared.visit_length)
    return MeanLength(
        length.value * pitch, pitch, max(1, len(length.values)), seen.scatter[key[0]], left
    )


def _verdict(left: RatioInterval) -> BodiesVerdict:
    if left.low is None or left.high is None:
        return BodiesVerdict.NO_REPEATS
    if left.holds_one:
        return BodiesVerdict.SAME
    return BodiesVerdict.LONGER if left.value > 1 else BodiesVerdict.SHORTER


def _sources_differ(together: Partners, one: MeanLength, other: MeanLength) -> bool:
    """Whether the images of the light source differ so much that lengths do."""
    sources = together.one.zone.source_px, together.other.zone.source_px
    if sources[0] is None or sources[1] is None:
        return False
    squares = [(px * size.pitch_um) ** 2 for px, size in zip(sources, (one, other), strict=True)
               if px is not None]  # fmt: skip
    change = SOURCE_SQUARES * abs(squares[1] - squares[0]) / 2
    return change > SOURCE_SHARE * one.length_um * other.length_um


def _refocused(seen: Sequence[_OnBody], pair: PlaceOnTwoBodies) -> bool:
    """Whether every frame of a pair is said to be focused anew."""
    key = pair.lens, pair.focal_mm, pair.f_number
    zones = [
        zone
        for one in seen
        for size in (pair.one, pair.other)
        if one.body.name == size.body
        for zone in one.results[key].zones
        if zone.place == size.place
    ]
    return all(zone.refocused is True for zone in zones)
