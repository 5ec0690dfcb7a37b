"""One place of the bench against the sky: both ways of comparing, with their intervals.

The lens alone: the sky's zones, the stars' motion taken out. As measured: the bench's spot drawn
in the place of the frame's own stars. Errors are those of ln(size).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from nightglass.bench.records import SettingResult, ZoneResult
from nightglass.gear.body import Body
from nightglass.proof.codes import PlaceReasonCode
from nightglass.proof.comparison.nearby_zone import (
    FINER,
    away_percent,
    finer,
    spot_extent,
    trail_of,
    zones_there,
)
from nightglass.proof.reasons import PlaceReason
from nightglass.proof.records import (
    PlaceProof,
    RedrawnSize,
    SkyFrame,
)
from nightglass.sky.zones.codes import ZoneReason
from nightglass.verdict.certainty.spread import satterthwaite, t_quantile
from nightglass.verdict.records import Interval


@dataclass(frozen=True)
class Scatter:
    """How far ln(size) moves from frame to frame of one place, and its degrees of freedom."""

    deviation: float
    freedom: float

    def error(self, inner: float, frames: int, own_freedom: float) -> tuple[float, float]:
        """Error of a mean over frames, never under what the stars alone leave; its freedom."""
        between = self.deviation / math.sqrt(frames)
        return (between, self.freedom) if between > inner else (inner, own_freedom)


@dataclass(frozen=True)
class Scatters:
    """Of the sky's frames, pooled over all places and settings: two frames alone say too little."""

    lens_alone: Scatter
    as_measured: Scatter


def scatters(both: Sequence[tuple[SettingResult, Sequence[SkyFrame]]], body: Body) -> Scatters:
    """Return how the sky's sizes scatter over the frames of each setting, places pooled."""
    alone, alike = [], []
    for result, frames in both:
        usable = [frame for frame in frames if frame.reason is None]
        for zone in result.zones:
            if zone.length_px.value is None or zone.stamp is None:
                continue
            seen = zones_there(zone, usable, body)[0]
            alone.append([math.log(sky / size) for size, sky, _ in seen])
            alike.append(
                [
                    redrawn.log_ratio
                    for f in usable
                    for redrawn in f.redrawn_sizes
                    if redrawn.place == zone.place
                ]
            )
    return Scatters(_pooled(alone), _pooled(alike))


def _pooled(groups: Sequence[Sequence[float]]) -> Scatter:
    freedom = sum(len(group) - 1 for group in groups if len(group) > 1)
    if freedom == 0:
        return Scatter(0.0, math.inf)
    squares = sum(float(np.var(group)) * len(group) for group in groups if len(group) > 1)
    return Scatter(math.sqrt(squares / freedom), float(freedom))


def compared_place(
    bench: ZoneResult,
    frames: Sequence[SkyFrame],
    bench_err: tuple[float, float],
    scatter: Scatters,
    body: Body,
) -> PlaceProof:
    """Return a place; bench_err: 1-sigma error of ln(size) on the bench, its degrees of freedom."""
    found = PlaceProof(bench.place, bench.field_radius, bench_length_px=bench.length_px.value)
    if bench.length_px.value is None or bench.stamp is None:
        bound = bench.length_px.at_most
        code = PlaceReasonCode.BENCH_NOT_MEASURED
        if bound is not None:
            code = PlaceReasonCode.BENCH_AT_LIMIT
        return replace(found, reason=PlaceReason(code, at_most_px=bound))
    if math.isnan(bench_err[0]):
        return replace(found, reason=PlaceReason(PlaceReasonCode.BENCH_ERROR_UNKNOWN))
    found = replace(found, bench_log_err=bench_err[0], bench_freedom=bench_err[1])
    found = _as_measured(found, bench, frames, scatter.as_measured)
    return _lens_alone(found, bench, frames, scatter.lens_alone, body)


def _as_measured(
    found: PlaceProof, bench: ZoneResult, frames: Sequence[SkyFrame], scatter: Scatter
) -> PlaceProof:
    """The place with what the stars drawn with its spot say."""
    redrawn_sizes = [
        redrawn
        for frame in frames
        for redrawn in frame.redrawn_sizes
        if redrawn.place == bench.place
    ]
    if not redrawn_sizes:
        return found
    log, err, free = _mean_redrawn(redrawn_sizes, scatter)
    bench_px = math.exp(float(np.mean([math.log(redrawn.bench_px) for redrawn in redrawn_sizes])))
    # Second moments add: a change of the lens moves the trailed spot by their share of it.
    stamp = spot_extent(finer(bench.stamp if bench.stamp is not None else np.zeros((1, 1))), FINER)
    share = min(1.0, (stamp.length_px * stamp.width_px) / bench_px**2)
    parts = [((found.bench_log_err * share) ** 2, found.bench_freedom), (err**2, free)]
    return replace(
        found,
        as_measured_bench_px=bench_px,
        as_measured_sky_px=bench_px * math.exp(log),
        as_measured_ratio=_interval(log, parts),
        as_measured_stars=sum(redrawn.stars for redrawn in redrawn_sizes),
        frames=len(redrawn_sizes),
    )


def _mean_redrawn(
    redrawn_sizes: Sequence[RedrawnSize], scatter: Scatter
) -> tuple[float, float, float]:
    """Mean of ln(ratio) over frames, weighted by their errors, its error and its freedom."""
    logs = np.array([redrawn.log_ratio for redrawn in redrawn_sizes])
    errors = np.array([max(redrawn.log_err, 1e-3) for redrawn in redrawn_sizes])
    weights = 1 / errors**2
    mean = float(np.average(logs, weights=weights))
    inner, free = satterthwaite(
        [
            (float((w * e / weights.sum()) ** 2), redrawn.freedom)
            for w, e, redrawn in zip(weights, errors, redrawn_sizes, strict=True)
        ]
    )
    return mean, *scatter.error(math.sqrt(inner), len(redrawn_sizes), free)


def _lens_alone(
    found: PlaceProof,
    bench: ZoneResult,
    frames: Sequence[SkyFrame],
    scatter: Scatter,
    body: Body,
) -> PlaceProof:
    """The place with what the sky's zones say of the lens alone."""
    compared, zones, kind = zones_there(bench, frames, body)
    if not zones:
        return replace(found, reason=_no_zone(frames))
    single = [err for _, _, err in compared]
    inner = math.sqrt(sum(e * e for e in single)) / len(single)
    sky_err, sky_free = scatter.error(inner, len(single), math.inf)
    size, sky = (math.exp(float(np.mean(np.log([c[k] for c in compared])))) for k in (0, 1))
    parts = [(found.bench_log_err**2, found.bench_freedom), (sky_err**2, sky_free)]
    return replace(
        found,
        sky_radius=float(np.mean([zone.field_radius for zone in zones])),
        zone_kind=kind,
        zone_away_percent=float(np.mean([away_percent(bench, zone, body) for zone in zones])),
        zone_joined=any(zone.columns > 1 for zone in zones),
        frames=max(len(zones), found.frames),
        stars=sum(zone.stars for zone in zones),
        bench_px=size,
        sky_px=sky,
        ratio=_interval(math.log(sky / size), parts),
        trail_px=float(np.mean([math.hypot(*trail_of(zone)) for zone in zones])),
        sky_log_err=sky_err,
        sky_freedom=sky_free,
        bench_span=_interval(math.log(size), parts[:1]),
        sky_span=_interval(math.log(sky), parts[1:]),
    )


def _no_zone(frames: Sequence[SkyFrame]) -> PlaceReason:
    """Why no zone of the sky speaks for a place; of several reasons the likeliest to be mended."""
    if not frames:
        return PlaceReason(PlaceReasonCode.NO_FRAME)
    order = list(ZoneReason)
    silent = [
        (order.index(zone.reason), zone.stars)
        for frame in frames
        for zone in frame.zones
        if zone.reason is not None
    ]
    if not silent:
        return PlaceReason(PlaceReasonCode.ZONE_NOT_MEASURED)
    reason, stars = min(silent)
    return PlaceReason(
        PlaceReasonCode.ZONE_NOT_MEASURED, zone_reason=order[reason], zone_stars=stars
    )


def _interval(log_ratio: float, parts: Sequence[tuple[float, float]]) -> Interval:
    total, freedom = satterthwaite(parts)
    half = t_quantile(freedom) * math.sqrt(total)
    return Interval(*(math.exp(log_ratio + d) for d in (0.0, -half, half)))
