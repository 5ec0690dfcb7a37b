"""The bench held against the sky: like with like, place by place, setting by setting.

The bench's mean spot is drawn along the trail that the sky's stars show and measured by the same
code as the sky's; ratios are sky over bench, intervals 95 %, on logarithms.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import ndimage

from nightglass.bench.records import SettingResult, ZoneResult
from nightglass.gear.body import Body
from nightglass.optics.extent import Extent, extent, trailed
from nightglass.sky.motion import FINE
from nightglass.sky.zones import Zone
from nightglass.verdict.agreement import (
    LEAST_SETTINGS,
    LogSize,
    PairState,
    odd_ones,
    pair_states,
    rank_agreement,
)
from nightglass.verdict.proof_causes import causes, name_of
from nightglass.verdict.proof_records import PlaceProof, Proof, SettingProof, SkyFrame
from nightglass.verdict.records import Interval
from nightglass.verdict.repeats import PooledRepeats, length_log_err, pool_repeats
from nightglass.verdict.spread import satterthwaite, t_quantile

LONG_FROM = 1.3
"""Length over width from which lengths are compared; below, the root of length times width."""
NEAR_PERCENT = 30.0
"""How far a sky zone's middle may lie from the bench's place, % of picture height: the sky has 3
by 5 zones, whose corners lie 22 % from their middle."""
SAME_RADIUS = 0.15
"""Field radius within which a zone elsewhere in the frame stands in for a place."""
HOW = (
    "lens alone: the sky's spot with the stars' motion taken out, against the bench's mean spot; "
    "with trail: both drawn along the trail that the stars show. Sky over bench, 95 %. Left out: "
    "focus that was set only once on the night, and the stars' number and the glow, which are not "
    "compared"
)


def prove(results: Sequence[SettingResult], frames: Sequence[SkyFrame], body: Body) -> Proof:
    """Return bench and sky side by side for every setting that has both.

    No frame is dropped: what can't be compared stays in the list with its reason.
    """
    pool = pool_repeats(results)
    proofs = []
    for result in sorted(results, key=lambda r: r.setting):
        own = [frame for frame in frames if frame.setting == result.setting]
        if own:
            proofs.append(_setting(result, own, pool, body))
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
        verdict=_verdict([name_of(proof.setting) for proof in known], tau, states),
        how=HOW,
    )


def _setting(
    result: SettingResult, frames: Sequence[SkyFrame], pool: PooledRepeats, body: Body
) -> SettingProof:
    usable = [frame for frame in frames if frame.reason is None]
    places = tuple(
        _place(zone, usable, *length_log_err(zone, result.setting.lens, pool), body)
        for zone in result.zones
    )
    both = [place for place in places if place.ratio is not None]
    return SettingProof(
        setting=result.setting,
        files=tuple(frame.file for frame in frames),
        places=places,
        bench_worst=max(both, key=lambda p: p.bench_px or 0.0, default=None),
        sky_worst=max(both, key=lambda p: p.sky_px or 0.0, default=None),
        causes=causes(both, usable),
    )


def _place(
    bench: ZoneResult, frames: Sequence[SkyFrame], log_err: float, freedom: float, body: Body
) -> PlaceProof:
    found = PlaceProof(bench.place, bench.field_radius)
    if bench.length_px.value is None or bench.stamp is None:
        bound = bench.length_px.at_most
        why = "not measured on the bench"
        if bound is not None:
            why = f"at limit on the bench (at most {bound:.1f} px): no ratio"
        return replace(found, reason=why)
    if math.isnan(log_err):
        return replace(found, reason="the bench's error is not known: one frame without any")
    zones = [zone for frame in frames if (zone := _zone_at(bench, frame.zones, body)) is not None]
    if not zones:
        reasons = sorted({z.reason for frame in frames for z in frame.zones if z.reason})
        why = "no zone of the sky there was measured" + (f" ({reasons[0]})" if reasons else "")
        return replace(found, reason=why if frames else "no frame of the sky could be used")
    near = [zone for zone in zones if _away_percent(bench, zone, body) <= NEAR_PERCENT]
    zones = near or zones
    compared = [_compared(bench, zone) for zone in zones]
    logs = np.log([[c[1] / c[0], c[3] / c[2]] for c in compared])
    sky_err, sky_free = _sky_error(zones, logs[:, 0])
    b, s, bt, st = np.exp(np.log(compared).mean(axis=0))
    # Second moments add: a change of the lens moves the trailed spot by their share of it.
    parts = [(log_err**2, freedom), (sky_err**2, sky_free)]
    shared = [((log_err * (b / bt) ** 2) ** 2, freedom), ((sky_err * (s / st) ** 2) ** 2, sky_free)]
    return replace(
        found,
        sky_radius=float(np.mean([zone.field_radius for zone in zones])),
        same_side=bool(near),
        frames=len(zones),
        stars=sum(zone.stars for zone in zones),
        bench_px=float(b),
        sky_px=float(s),
        ratio=_interval(float(logs[:, 0].mean()), parts),
        trail_px=float(np.mean([math.hypot(*_trail(zone)) for zone in zones])),
        bench_trailed_px=float(bt),
        sky_trailed_px=float(st),
        trailed_ratio=_interval(float(logs[:, 1].mean()), shared),
        bench_log_err=log_err,
        bench_freedom=freedom,
        sky_log_err=sky_err,
        sky_freedom=sky_free,
    )


def _zone_at(bench: ZoneResult, zones: Sequence[Zone], body: Body) -> Zone | None:
    """The measured zone at the bench's place, else one as far from the centre, else None."""
    measured = [zone for zone in zones if zone.length_px and zone.image is not None]
    if not measured:
        return None
    nearest = min(measured, key=lambda zone: _away_percent(bench, zone, body))
    if _away_percent(bench, nearest, body) <= NEAR_PERCENT:
        return nearest
    alike = min(measured, key=lambda zone: abs(zone.field_radius - bench.field_radius))
    return alike if abs(alike.field_radius - bench.field_radius) <= SAME_RADIUS else None


def _away_percent(bench: ZoneResult, zone: Zone, body: Body) -> float:
    away = math.hypot(bench.x_px - zone.x_px, bench.y_px - zone.y_px)
    return 100 * away / body.picture_height_px


def _trail(zone: Zone) -> tuple[float, float]:
    return zone.trail_seen_px or zone.trail_expected_px or (0.0, 0.0)


def _compared(bench: ZoneResult, zone: Zone) -> tuple[float, float, float, float]:
    """Sizes [px] of bench and sky, the lens alone and along the trail."""
    dx, dy = _trail(zone)
    drawn = math.hypot(dx, dy), math.degrees(math.atan2(dy, dx))
    stamp = finer(bench.stamp if bench.stamp is not None else np.zeros((1, 1)))
    image = zone.image if zone.image is not None else np.zeros((1, 1))
    alone = _sizes(spot_extent(stamp, FINE), spot_extent(image, FINE))
    along = _sizes(spot_extent(stamp, FINE, *drawn), spot_extent(image, FINE, *drawn))
    return (*alone, *along)


def finer(stamp: ArrayLike) -> NDArray[np.float64]:
    """Return a spot of 1 px steps with FINE samples per pixel, by cubic splines.

    Measured at its own steps it would come out up to 3 % off against the sky's finer spot.
    """
    spot = np.asarray(stamp, dtype=np.float64)
    wanted = [(side - 1) * FINE + 1 for side in spot.shape]
    factors = [new / old for new, old in zip(wanted, spot.shape, strict=True)]
    return np.asarray(ndimage.zoom(spot, factors, order=3), dtype=np.float64)


def spot_extent(
    image: ArrayLike, fine: int = 1, trail_px: float = 0.0, angle_degrees: float = 0.0
) -> Extent:
    """Return the measures of a spot with `fine` samples per pixel, drawn along a trail.

    Room is added around it, so that the ring of the background lies beside the light. Raises
    ValueError for an image without light.
    """
    spot = np.asarray(image, dtype=np.float64)
    if trail_px > 0:
        spot = trailed(spot, trail_px * fine, angle_degrees)
    return extent(np.pad(spot, 2 * max(spot.shape) // 3), 1 / fine)


def _sizes(bench: Extent, sky: Extent) -> tuple[float, float]:
    if min(e.length_px / e.width_px for e in (bench, sky)) > LONG_FROM:
        return bench.length_px, sky.length_px
    return math.sqrt(bench.length_px * bench.width_px), math.sqrt(sky.length_px * sky.width_px)


def _sky_error(zones: Sequence[Zone], logs: NDArray[np.float64]) -> tuple[float, float]:
    """1-sigma error of the mean log size of several frames, and its degrees of freedom."""
    single = [(zone.length_px_err or 0.0) / (zone.length_px or 1.0) for zone in zones]
    inner = math.sqrt(sum(e * e for e in single)) / len(single)
    if len(zones) < 2:
        return inner, math.inf
    scatter = float(np.std(logs, ddof=1)) / math.sqrt(len(zones))
    return (scatter, len(zones) - 1.0) if scatter > inner else (inner, math.inf)


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
