"""Whether the interval of Kendall's tau over settings holds the true tau, and pairs the truth.

Settings with a known order on bench and sky get sizes with errors, of which a pool of repeats
knows the scatter. Compared: the interval of rank_agreement (each pair that is not decided may fall
either way, all pairs of a list decided together), the same with each pair decided by itself, and
one by drawing the sizes again within their errors. That last one fails where settings lie close
together: noise alone brings tau nearer to 0, and drawing again adds the noise once more.
Printed: share of intervals that hold the true tau, their mean width, share of runs in which at
least one pair is called wrongly.
Run: python design/proof_order.py   (about two minutes)
"""

from __future__ import annotations

import itertools
import math

import numpy as np
from numpy.typing import NDArray

from nightglass.proof.comparison.agreement import LogSize, pair_states, rank_agreement
from nightglass.verdict.certainty.spread import t_quantile

RUNS, DRAWS = 400, 400
BENCH_ERR, SKY_ERR = 0.02, 0.05
FREEDOM = 8.0
LISTS = (
    ("3", (0, 1, 2)),
    ("5", (0, 1, 2, 3, 4)),
    ("8", tuple(range(8))),
    ("8 mixed", (2, 0, 1, 5, 3, 4, 7, 6)),
)
APART = ((0.01, 0.01), (1.0, 1.0), (2.0, 2.0), (5.0, 5.0), (5.0, 0.3))
"""Neighbours in the order, in errors of the bench and of the sky."""
Array = NDArray[np.float64]


def taus(bench: Array, sky: Array) -> Array:
    """Return Kendall's tau of each row."""
    a, b = np.triu_indices(bench.shape[-1], 1)
    signs = np.sign(bench[..., a] - bench[..., b]) * np.sign(sky[..., a] - sky[..., b])
    return np.asarray(signs.mean(axis=-1))


def by_pairs(sizes: tuple[Array, Array], errors: tuple[float, float]) -> tuple[float, float]:
    """Return tau's interval with each pair decided by Student's t of its own."""
    a, b = np.triu_indices(sizes[0].size, 1)
    decided = np.ones(a.size)
    for values, err in zip(sizes, errors, strict=True):
        away = values[a] - values[b]
        sure = np.abs(away) > t_quantile(FREEDOM) * err * math.sqrt(2)
        decided *= np.where(sure, np.sign(away), 0.0)
    left = float(np.mean(decided == 0))
    return float(decided.mean()) - left, float(decided.mean()) + left


def drawn_again(
    sizes: tuple[Array, Array], errors: tuple[float, float], rng: np.random.Generator
) -> tuple[float, float]:
    """Return the middle 95 % of tau when all sizes are drawn again within their errors."""
    new = (
        v + e * rng.standard_t(FREEDOM, (DRAWS, v.size)) for v, e in zip(sizes, errors, strict=True)
    )
    low, high = np.percentile(taus(*new), [2.5, 97.5])
    return float(low), float(high)


def run(
    order: tuple[int, ...], apart: tuple[float, float], rng: np.random.Generator
) -> list[float]:
    """Return shares that hold the true tau and mean widths of the three, and wrong pairs."""
    true = np.arange(len(order)) * apart[0] * BENCH_ERR, np.array(order) * apart[1] * SKY_ERR
    truth = float(taus(*true))
    held, width, wrong = np.zeros(3), np.zeros(3), 0
    for _ in range(RUNS):
        errors = tuple(
            e * math.sqrt(rng.chisquare(FREEDOM) / FREEDOM) for e in (BENCH_ERR, SKY_ERR)
        )
        bench, sky = (
            v + e * rng.standard_normal(v.size)
            for v, e in zip(true, (BENCH_ERR, SKY_ERR), strict=True)
        )
        lists = [
            [LogSize(float(v), e, FREEDOM) for v in values]
            for values, e in zip((bench, sky), errors, strict=True)
        ]
        tau = rank_agreement(*lists)
        assert tau is not None
        ends = (
            (tau.low or 0.0, tau.high or 0.0),
            by_pairs((bench, sky), (errors[0], errors[1])),
            drawn_again((bench, sky), (errors[0], errors[1]), rng),
        )
        held += [low - 1e-9 <= truth <= high + 1e-9 for low, high in ends]
        width += [high - low for low, high in ends]
        said = pair_states(*lists)
        wrong += any(
            said[a, b] == ("against" if order[a] < order[b] else "held")
            for a, b in itertools.combinations(range(len(order)), 2)
        )
    return [*(held / RUNS), *(width / RUNS), wrong / RUNS]


def main() -> None:
    rng = np.random.default_rng(3)
    print("settings, apart (bench, sky errors): share held; width (together, alone, drawn); wrong")
    for name, order in LISTS:
        for apart in APART:
            found = run(order, apart, rng)
            shares = " ".join(f"{v:.3f}" for v in found[:3])
            widths = " ".join(f"{v:.2f}" for v in found[3:6])
            print(f"{name:8} {apart[0]:.2f} {apart[1]:.2f}: {shares}; {widths}; {found[6]:.3f}")


if __name__ == "__main__":
    main()
