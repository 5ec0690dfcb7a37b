"""Whether the order of settings on the bench is that on the sky."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from nightglass.verdict.records import Interval
from nightglass.verdict.spread import satterthwaite, t_quantile

DRAWS = 4000
LEAST_SETTINGS = 3
_MANY = 1e4

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
    81, DOI 10.1093/biomet/30.1-2.81). The interval comes from drawing all sizes again within
    their errors (seeded, Student's t). None for fewer than three settings. Raises ValueError for
    lists of different lengths.
    """
    if len(bench) != len(sky):
        raise ValueError(f"{len(bench)} sizes on the bench, {len(sky)} on the sky: they must pair")
    if len(bench) < LEAST_SETTINGS:
        return None
    value = float(_tau(_values(bench)[None, :], _values(sky)[None, :])[0])
    rng = np.random.default_rng([17, len(bench)])
    draws = _tau(_drawn(bench, rng), _drawn(sky, rng))
    low, high = np.percentile(draws, [2.5, 97.5])
    return Interval(value, float(low), float(high))


def pair_states(
    bench: Sequence[LogSize], sky: Sequence[LogSize]
) -> dict[tuple[int, int], PairState]:
    """Return for each pair of settings whether the sky holds what the bench says of it.

    A pair is open unless both differences are beyond their 95 % intervals.
    """
    states: dict[tuple[int, int], PairState] = {}
    for a, b in itertools.combinations(range(len(bench)), 2):
        one, other = _sign(bench[a], bench[b]), _sign(sky[a], sky[b])
        states[a, b] = "open" if one * other == 0 else "held" if one == other else "against"
    return states


def odd_ones(against: Sequence[tuple[int, int]]) -> tuple[int, ...]:
    """Return the settings without which no pair is against: the most contradicted ones first."""
    left, odd = list(against), []
    while left:
        counts: dict[int, int] = {}
        for index in itertools.chain.from_iterable(left):
            counts[index] = counts.get(index, 0) + 1
        worst = max(sorted(counts), key=lambda k: counts[k])
        odd.append(worst)
        left = [pair for pair in left if worst not in pair]
    return tuple(odd)


def _sign(one: LogSize, other: LogSize) -> int:
    total, freedom = satterthwaite(
        [(one.err**2, one.degrees_of_freedom), (other.err**2, other.degrees_of_freedom)]
    )
    away = one.value - other.value
    if math.isnan(total) or abs(away) <= t_quantile(freedom) * math.sqrt(total):
        return 0
    return 1 if away > 0 else -1


def _values(sizes: Sequence[LogSize]) -> NDArray[np.float64]:
    return np.array([size.value for size in sizes])


def _drawn(sizes: Sequence[LogSize], rng: np.random.Generator) -> NDArray[np.float64]:
    freedom = np.array([min(size.degrees_of_freedom, _MANY) for size in sizes])
    err = np.array([size.err for size in sizes])
    return _values(sizes) + err * rng.standard_t(freedom, size=(DRAWS, len(sizes)))


def _tau(bench: NDArray[np.float64], sky: NDArray[np.float64]) -> NDArray[np.float64]:
    """Kendall's tau of each row."""
    a, b = np.triu_indices(bench.shape[1], 1)
    signs = np.sign(bench[:, a] - bench[:, b]) * np.sign(sky[:, a] - sky[:, b])
    return np.asarray(signs.mean(axis=1))
