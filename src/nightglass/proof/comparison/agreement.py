"""Whether the order of settings on the bench is that on the sky."""

from __future__ import annotations

import itertools
import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from nightglass.verdict.certainty.spread import chosen_quantile, joined
from nightglass.verdict.records import Interval

LEAST_SETTINGS = 3

PairState = Literal["held", "against", "open"]


@dataclass(frozen=True)
class LogSize:
    """The logarithm of a size with its 1-sigma error and degrees of freedom."""

    value: float
    err: float
    degrees_of_freedom: float = math.inf


def rank_agreement(bench: Sequence[LogSize], sky: Sequence[LogSize]) -> Interval | None:
    """Return Kendall's tau of two lists in the same order, with its 95 % interval.

    tau = (pairs in the same order - pairs in the other) / all pairs (Kendall 1938, Biometrika 30,
    81, DOI 10.1093/biomet/30.1-2.81); a tie counts as neither. The interval lets each undecided
    pair of pair_states fall either way. (Drawing the sizes again within their errors does not
    do: noise alone brings tau nearer to 0, so with five settings that lie close together such an
    interval holds the true tau in one case of twenty: design/proof_order.py.) None for fewer
    than three settings. Raises ValueError for lists of different lengths.
    """
    if len(bench) != len(sky):
        raise ValueError(f"{len(bench)} sizes on the bench, {len(sky)} on the sky: they must pair")
    if len(bench) < LEAST_SETTINGS:
        return None
    pairs = list(itertools.combinations(range(len(bench)), 2))
    orders = [
        np.sign((bench[a].value - bench[b].value) * (sky[a].value - sky[b].value)) for a, b in pairs
    ]
    states = list(pair_states(bench, sky).values())
    sure = states.count("held") - states.count("against")
    free = states.count("open")
    count = len(pairs)
    return Interval(float(np.mean(orders)), (sure - free) / count, (sure + free) / count)


def pair_states(
    bench: Sequence[LogSize], sky: Sequence[LogSize]
) -> dict[tuple[int, int], PairState]:
    """Return for each pair of settings whether the sky holds what the bench says of it.

    A pair is open unless both differences are beyond their intervals. These are 95 % for all pairs
    of a list together (Tukey, Kramer): among many settings some pair is always far apart by chance.
    """
    states: dict[tuple[int, int], PairState] = {}
    count = len(bench)
    for a, b in itertools.combinations(range(count), 2):
        one, other = _sign(bench[a], bench[b], count), _sign(sky[a], sky[b], count)
        states[a, b] = "open" if one * other == 0 else "held" if one == other else "against"
    return states


def odd_ones(
    against: Sequence[tuple[int, int]],
) -> tuple[tuple[int, ...], tuple[tuple[int, int], ...]]:
    """Return the settings that several pairs contradict, the most contradicted ones first, and the
    pairs that are left without them: of such a pair either may be the odd one.

    Equally contradicted settings are named together: the order of the list decides nothing.
    """
    left, odd = list(against), []
    while left:
        counts = Counter(itertools.chain.from_iterable(left))
        most = max(counts.values())
        if most == 1:
            break
        worst = sorted(k for k, count in counts.items() if count == most)
        odd += worst
        left = [pair for pair in left if not set(pair) & set(worst)]
    return tuple(odd), tuple(left)


def agreed_without(
    held: Sequence[tuple[int, int]], odd: Sequence[int], pairs: Sequence[tuple[int, int]]
) -> bool:
    """Return whether some pair still holds without the odd settings, whichever one of each
    contradicted pair is left out as well."""
    return all(
        any(not set(pair) & {*odd, *out} for pair in held) for out in itertools.product(*pairs)
    )


def _sign(one: LogSize, other: LogSize, compared: int) -> int:
    total, freedom = joined(
        (one.err**2, one.degrees_of_freedom), (other.err**2, other.degrees_of_freedom)
    )
    away = one.value - other.value
    if math.isnan(total) or abs(away) <= chosen_quantile(compared, freedom) * math.sqrt(total):
        return 0
    return 1 if away > 0 else -1
