"""Whether the order of settings on the bench is that on the sky, and the sentence that says so."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from nightglass.gear.lens import LensSetting
from nightglass.verdict.agreement import (
    LEAST_SETTINGS,
    LogSize,
    PairState,
    odd_ones,
    pair_states,
    rank_agreement,
)
from nightglass.verdict.proof_causes import name_of
from nightglass.verdict.proof_records import PlaceProof, SettingProof
from nightglass.verdict.records import Interval

SettingPair = tuple[LensSetting, LensSetting]


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
    verdict: str


def order_of(proofs: Sequence[SettingProof]) -> Order:
    """Return the order of the settings that have a place on both bench and sky."""
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
    verdict = _verdict([name_of(proof.setting) for proof in known], tau, states)
    return Order(tau, pairs("held"), pairs("against"), pairs("open"), verdict)


def stars_tau(proofs: Sequence[SettingProof]) -> Interval | None:
    """Return Kendall's tau of the numbers of stars, predicted and found, over settings."""
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
