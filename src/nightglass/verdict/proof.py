"""The bench held against the sky: like with like, place by place, setting by setting.

Two comparisons stand side by side. The lens alone: the sky's spot with the stars' motion taken
out, against the bench's mean spot. And as measured: the bench's spot drawn in the place of the
frame's own stars and measured by the same code. Ratios are sky over bench, intervals 95 %, on
logarithms.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from nightglass.bench.records import SettingResult, ZoneResult
from nightglass.gear.body import Body
from nightglass.verdict.agreement import (
    LEAST_SETTINGS,
    LogSize,
    PairState,
    odd_ones,
    pair_states,
    rank_agreement,
)
from nightglass.verdict.proof_causes import causes, name_of
from nightglass.verdict.proof_place import (
    FINER,
    finer,
    spot_extent,
    trail_of,
    zones_there,
)
from nightglass.verdict.proof_records import (
    PlaceLike,
    PlaceProof,
    Proof,
    SettingProof,
    SkyFrame,
)
from nightglass.verdict.records import Interval
from nightglass.verdict.repeats import PooledRepeats, length_log_err, pool_repeats
from nightglass.verdict.spread import satterthwaite, t_quantile

HOW = (
    "lens alone: the sky's spot with the stars' motion taken out, at the bench's place, against "
    "the bench's mean spot. As measured: the bench's spot drawn in the place of the frame's own "
    "stars (light, places, trails, neighbours, noise), and both measured by the same code. Sky "
    "over bench, 95 %. Stars and limit: the bench's spot with the night's zero point and noise; "
    "light and glow: lens and body as in bench.toml. Left out: focus that was set only once on "
    "the night"
)


def prove(results: Sequence[SettingResult], frames: Sequence[SkyFrame], body: Body) -> Proof:
    """Return bench and sky side by side for every setting that has both.

    No frame is dropped: what can't be compared stays in the list with its reason.
    """
    pool = pool_repeats(results)
    both = [
        (result, own)
        for result in sorted(results, key=lambda r: r.setting)
        if (own := [frame for frame in frames if frame.setting == result.setting])
    ]
    scatter = _scatters(both, body)
    proofs = [_setting(result, own, pool, scatter, body) for result, own in both]
    known = [proof for proof in proofs if proof.bench_worst and proof.sky_worst]
    bench = [_log_size(proof.bench_worst, sky=False) for proof in known]
    sky = [_log_size(proof.sky_worst, sky=True) for proof in known]
    tau, states = rank_agreement(bench, sky), pair_states(bench, sky)
    against = [pair for pair, state in states.items() if state == "against"]
    return Proof(
        settings=tuple(proofs),
        frames=tuple(frames),
        not_on_sky=tuple(sorted({r.setting for r in results} - {p.setting for p in proofs})),
        tau=tau,
        pairs_held=list(states.values()).count("held"),
        pairs_against=tuple(
            (known[a].setting, known[b].setting)
            if bench[a].value < bench[b].value
            else (known[b].setting, known[a].setting)
            for a, b in against
        ),
        pairs_open=list(states.values()).count("open"),
        stars_tau=_stars_tau(proofs),
        verdict=_verdict([name_of(proof.setting) for proof in known], tau, states),
        how=HOW,
    )


@dataclass(frozen=True)
class _Scatter:
    """How far ln(size) moves from frame to frame of one place, and its degrees of freedom."""

    deviation: float
    freedom: float

    def error(self, inner: float, frames: int, own_freedom: float) -> tuple[float, float]:
        """Error of a mean over frames, never under what the stars alone leave; its freedom."""
        between = self.deviation / math.sqrt(frames)
        return (between, self.freedom) if between > inner else (inner, own_freedom)


@dataclass(frozen=True)
class _Scatters:
    """Of the sky's frames, pooled over all places and settings: two frames alone say too little."""

    alone: _Scatter
    alike: _Scatter


def _scatters(both: Sequence[tuple[SettingResult, Sequence[SkyFrame]]], body: Body) -> _Scatters:
    alone, alike = [], []
    for result, frames in both:
        usable = [frame for frame in frames if frame.reason is None]
        for zone in result.zones:
            if zone.length_px.value is None or zone.stamp is None:
                continue
            seen = zones_there(zone, usable, body)[0]
            alone.append([math.log(sky / size) for size, sky, _ in seen])
            alike.append(
                [like.log_ratio for f in usable for like in f.likes if like.place == zone.place]
            )
    return _Scatters(_pooled(alone), _pooled(alike))


def _pooled(groups: Sequence[Sequence[float]]) -> _Scatter:
    freedom = sum(len(group) - 1 for group in groups if len(group) > 1)
    if freedom == 0:
        return _Scatter(0.0, math.inf)
    squares = sum(float(np.var(group)) * len(group) for group in groups if len(group) > 1)
    return _Scatter(math.sqrt(squares / freedom), float(freedom))


def _setting(
    result: SettingResult,
    frames: Sequence[SkyFrame],
    pool: PooledRepeats,
    scatter: _Scatters,
    body: Body,
) -> SettingProof:
    usable = [frame for frame in frames if frame.reason is None]
    places = tuple(
        _place(zone, usable, length_log_err(zone, result.setting.lens, pool), scatter, body)
        for zone in result.zones
    )
    both = [place for place in places if place.ratio is not None]
    return SettingProof(
        setting=result.setting,
        files=tuple(frame.file for frame in frames),
        places=places,
        bench_worst=max(both, key=lambda p: p.bench_px or 0.0, default=None),
        sky_worst=max(both, key=lambda p: p.sky_px or 0.0, default=None),
        causes=causes([place for place in places if place.compared], usable),
        nights=tuple((f.file, f.night) for f in usable if f.night is not None),
    )


def _place(
    bench: ZoneResult,
    frames: Sequence[SkyFrame],
    bench_err: tuple[float, float],
    scatter: _Scatters,
    body: Body,
) -> PlaceProof:
    """One place; bench_err: 1-sigma error of ln(size) on the bench, its degrees of freedom."""
    found = PlaceProof(bench.place, bench.field_radius)
    if bench.length_px.value is None or bench.stamp is None:
        bound = bench.length_px.at_most
        why = "not measured on the bench"
        if bound is not None:
            why = f"at limit on the bench (at most {bound:.1f} px): no ratio"
        return replace(found, reason=why)
    if math.isnan(bench_err[0]):
        return replace(found, reason="the bench's error is not known: one frame without any")
    found = replace(found, bench_log_err=bench_err[0], bench_freedom=bench_err[1])
    found = _alike(found, bench, frames, scatter.alike)
    return _alone(found, bench, frames, scatter.alone, body)


def _alike(
    found: PlaceProof, bench: ZoneResult, frames: Sequence[SkyFrame], scatter: _Scatter
) -> PlaceProof:
    """The place with what the stars drawn with its spot say."""
    likes = [like for frame in frames for like in frame.likes if like.place == bench.place]
    if not likes:
        return found
    log, err, free = _mean_like(likes, scatter)
    bench_px = math.exp(float(np.mean([math.log(like.bench_px) for like in likes])))
    # Second moments add: a change of the lens moves the trailed spot by their share of it.
    stamp = spot_extent(finer(bench.stamp if bench.stamp is not None else np.zeros((1, 1))), FINER)
    share = min(1.0, (stamp.length_px * stamp.width_px) / bench_px**2)
    parts = [((found.bench_log_err * share) ** 2, found.bench_freedom), (err**2, free)]
    return replace(
        found,
        like_bench_px=bench_px,
        like_sky_px=bench_px * math.exp(log),
        like_ratio=_interval(log, parts),
        like_stars=sum(like.stars for like in likes),
        frames=len(likes),
    )


def _mean_like(likes: Sequence[PlaceLike], scatter: _Scatter) -> tuple[float, float, float]:
    """Mean of ln(ratio) over frames, weighted by their errors, its error and its freedom."""
    logs = np.array([like.log_ratio for like in likes])
    errors = np.array([max(like.log_err, 1e-3) for like in likes])
    weights = 1 / errors**2
    mean = float(np.average(logs, weights=weights))
    inner, free = satterthwaite(
        [
            (float((w * e / weights.sum()) ** 2), like.freedom)
            for w, e, like in zip(weights, errors, likes, strict=True)
        ]
    )
    return mean, *scatter.error(math.sqrt(inner), len(likes), free)


def _alone(
    found: PlaceProof,
    bench: ZoneResult,
    frames: Sequence[SkyFrame],
    scatter: _Scatter,
    body: Body,
) -> PlaceProof:
    """The place with what the sky's zones say of the lens alone."""
    compared, zones, near = zones_there(bench, frames, body)
    if not zones:
        reasons = sorted({z.reason for frame in frames for z in frame.zones if z.reason})
        why = "no zone of the sky there was measured" + (f" ({reasons[0]})" if reasons else "")
        return replace(found, reason=why if frames else "no frame of the sky could be used")
    single = [err for _, _, err in compared]
    inner = math.sqrt(sum(e * e for e in single)) / len(single)
    sky_err, sky_free = scatter.error(inner, len(single), math.inf)
    size, sky = (math.exp(float(np.mean(np.log([c[k] for c in compared])))) for k in (0, 1))
    parts = [(found.bench_log_err**2, found.bench_freedom), (sky_err**2, sky_free)]
    return replace(
        found,
        sky_radius=float(np.mean([zone.field_radius for zone in zones])),
        same_side=near,
        frames=max(len(zones), found.frames),
        stars=sum(zone.stars for zone in zones),
        bench_px=size,
        sky_px=sky,
        ratio=_interval(math.log(sky / size), parts),
        trail_px=float(np.mean([math.hypot(*trail_of(zone)) for zone in zones])),
        sky_log_err=sky_err,
        sky_freedom=sky_free,
    )


def _interval(log_ratio: float, parts: Sequence[tuple[float, float]]) -> Interval:
    total, freedom = satterthwaite(parts)
    half = t_quantile(freedom) * math.sqrt(total)
    return Interval(*(math.exp(log_ratio + d) for d in (0.0, -half, half)))


def _log_size(place: PlaceProof | None, sky: bool) -> LogSize:
    if place is None or not place.bench_px or not place.sky_px:
        raise ValueError("a setting without a compared place has no size to rank")
    if sky:
        return LogSize(math.log(place.sky_px), place.sky_log_err, place.sky_freedom)
    return LogSize(math.log(place.bench_px), place.bench_log_err, place.bench_freedom)


def _stars_tau(proofs: Sequence[SettingProof]) -> Interval | None:
    """Kendall's tau of the numbers of stars, predicted and found, over settings."""
    predicted, found = [], []
    for proof in proofs:
        told = [n.stars for _, n in proof.nights if n.stars.ratio and n.stars.predicted]
        if not told:
            continue
        logs = [(math.log(a.predicted or 1.0), math.log(a.found or 1.0)) for a in told]
        ours, seen = np.mean(logs, axis=0)
        # The error is that of both together: it is given to the predictions.
        err = math.sqrt(sum(a.log_err**2 for a in told)) / len(told)
        predicted.append(LogSize(float(ours), err))
        found.append(LogSize(float(seen), 0.0))
    return rank_agreement(predicted, found)


def _verdict(
    names: Sequence[str], tau: Interval | None, states: dict[tuple[int, int], PairState]
) -> str:
    if tau is None:
        count = "1 setting has" if len(names) == 1 else f"{len(names)} settings have"
        return f"can't tell: {count} both bench and sky, and an order takes {LEAST_SETTINGS}"
    held = list(states.values()).count("held")
    odd = odd_ones([pair for pair, state in states.items() if state == "against"])
    if odd:
        agreed = [pair for pair, s in states.items() if s == "held" and not set(pair) & set(odd)]
        words = ", ".join(names[k] for k in odd)
        if agreed:
            return f"holds but for {words}"
        return f"the bench order does not hold: the sky contradicts it for {words}"
    if held == 0:
        return "can't tell: the settings lie closer together than the errors of bench and sky"
    if tau.low is None or tau.low <= 0:
        return "can't tell: within the errors the orders may have nothing in common"
    return "the bench order holds"
