"""Whether the order of settings on the bench is that on the sky, with the verdict on it.

The order is that of each setting's largest place. It rests only on places that have a size on
bench and sky with every setting: a corner that one frame did not show would else rank its lens by
the centre, beside corners of others.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from nightglass.gear.lens import LensSetting
from nightglass.proof.codes import VerdictCode
from nightglass.proof.comparison.agreement import (
    LEAST_SETTINGS,
    LogSize,
    PairState,
    agreed_without,
    odd_ones,
    pair_states,
    rank_agreement,
)
from nightglass.proof.records import PlaceProof, SettingPair, SettingProof, Verdict
from nightglass.verdict.certainty.spread import joined, t_quantile
from nightglass.verdict.records import Interval


@dataclass(frozen=True)
class Order:
    """Settings by their largest place, on the bench and on the sky."""

    tau: Interval | None
    held: tuple[SettingPair, ...]
    """Pairs (tighter, wider) that both decide alike."""
    against: tuple[SettingPair, ...]
    """Pairs (tighter on the bench, tighter on the sky)."""
    open: tuple[SettingPair, ...]
    """Pairs (tighter, wider on the bench) that the errors of bench or sky leave undecided."""
    verdict: Verdict


def shared_places(proofs: Sequence[SettingProof]) -> tuple[str, ...]:
    """Return the places that have a size on bench and sky with every setting that has any."""
    sized = [names for proof in proofs if (names := _sized(proof))]
    return tuple(name for name in sized[0] if all(name in one for one in sized)) if sized else ()


def with_largest(proof: SettingProof, shared: Sequence[str]) -> SettingProof:
    """Return a setting with its largest shared place on bench and sky, and the place that is
    larger on the bench, but not shared."""
    both = [place for place in proof.places if place.ratio is not None and place.place in shared]
    return replace(
        proof,
        bench_worst=max(both, key=lambda p: p.bench_px or 0.0, default=None),
        sky_worst=max(both, key=lambda p: p.sky_px or 0.0, default=None),
        unseen=_unseen(proof, both),
    )


def order_of(proofs: Sequence[SettingProof], shared: Sequence[str]) -> Order:
    """Return the order of the settings that have shared places; proofs as with_largest has them."""
    known = [proof for proof in proofs if proof.bench_worst and proof.sky_worst]
    bench = [_log_size(proof.bench_worst, sky=False) for proof in known]
    sky = [_log_size(proof.sky_worst, sky=True) for proof in known]
    states = pair_states(bench, sky)

    def pairs(wanted: PairState) -> tuple[SettingPair, ...]:
        return tuple(
            (known[a].setting, known[b].setting)
            if bench[a].value < bench[b].value
            else (known[b].setting, known[a].setting)
            for (a, b), state in states.items()
            if state == wanted
        )

    tau = rank_agreement(bench, sky)
    if tau is None:
        verdict = _too_few(proofs)
    else:
        verdict = replace(
            _verdict([proof.setting for proof in known], tau, states),
            places=tuple(shared),
            unseen=tuple((p.unseen, p.setting) for p in known if p.unseen),
        )
    return Order(tau, pairs("held"), pairs("against"), pairs("open"), verdict)


def stars_tau(proofs: Sequence[SettingProof]) -> tuple[Interval | None, int]:
    """Return Kendall's tau of the numbers of stars, predicted and found, over settings, and the
    number of these settings."""
    predicted, found = [], []
    for proof in proofs:
        counts = [n.stars for _, n in proof.nights if n.stars.ratio and n.stars.predicted]
        if not counts:
            continue
        logs = [(math.log(a.predicted or 1.0), math.log(a.found or 1.0)) for a in counts]
        ours, seen = np.mean(logs, axis=0)
        # The error is that of both together: it is given to the predictions.
        err = math.sqrt(sum(a.log_err**2 for a in counts)) / len(counts)
        predicted.append(LogSize(float(ours), err))
        found.append(LogSize(float(seen), 0.0))
    return rank_agreement(predicted, found), len(found)


def _sized(proof: SettingProof) -> tuple[str, ...]:
    return tuple(place.place for place in proof.places if place.ratio is not None)


def _unseen(proof: SettingProof, shared: Sequence[PlaceProof]) -> str | None:
    """Name of the place that is largest on the bench, beyond its errors, and not shared."""
    own = [place for place in proof.places if place.bench_length_px]
    largest = max(own, key=lambda p: p.bench_length_px or 0.0, default=None)
    if largest is None or not shared or largest.place in {place.place for place in shared}:
        return None
    other = max(shared, key=lambda p: p.bench_length_px or 0.0)
    away = math.log((largest.bench_length_px or 1.0) / (other.bench_length_px or 1.0))
    total, freedom = joined(
        (largest.bench_log_err**2, largest.bench_freedom),
        (other.bench_log_err**2, other.bench_freedom),
    )
    return largest.place if away > t_quantile(freedom) * math.sqrt(total) else None


def _log_size(place: PlaceProof | None, sky: bool) -> LogSize:
    if place is None or not place.bench_px or not place.sky_px:
        raise ValueError("a setting without a compared place has no size to rank")
    if sky:
        return LogSize(math.log(place.sky_px), place.sky_log_err, place.sky_freedom)
    return LogSize(math.log(place.bench_px), place.bench_log_err, place.bench_freedom)


def _too_few(proofs: Sequence[SettingProof]) -> Verdict:
    sized = [proof for proof in proofs if _sized(proof)]
    if len(sized) < LEAST_SETTINGS:
        return Verdict(VerdictCode.TOO_FEW_SETTINGS, len(sized))
    fewest = min(sized, key=lambda proof: (len(_sized(proof)), proof.setting))
    return Verdict(VerdictCode.NO_SHARED_PLACE, len(sized), _sized(fewest), fewest=fewest.setting)


def _verdict(
    settings: Sequence[LensSetting], tau: Interval, states: dict[tuple[int, int], PairState]
) -> Verdict:
    held = [pair for pair, state in states.items() if state == "held"]
    against = [pair for pair, state in states.items() if state == "against"]
    count = len(settings)
    if against:
        odd, pairs = odd_ones(against)
        agreed = agreed_without(held, odd, pairs)
        return Verdict(
            VerdictCode.HOLDS_BUT if agreed else VerdictCode.CONTRADICTED,
            count,
            odd=tuple(settings[k] for k in odd),
            odd_pairs=tuple((settings[a], settings[b]) for a, b in pairs),
        )
    if not held:
        return Verdict(VerdictCode.TOO_CLOSE, count)
    if tau.low is None or tau.low <= 0:
        return Verdict(VerdictCode.MAY_BE_UNRELATED, count)
    return Verdict(VerdictCode.HOLDS, count)
