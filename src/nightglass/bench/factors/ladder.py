"""The exposure ladder: unclipped frames of several exposures must give one size."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence

import numpy as np

from nightglass.bench.combined.sightings import Sighting
from nightglass.bench.factors.records import Ladder, LadderStep, LadderVerdict
from nightglass.optics.arrays import Floats, Indices

CHANCE = 0.05
"""Differences that chance alone makes in fewer cases than this are told."""
LEAST_DOF = 2
STEPS_A_STOP = 6


def exposure_ladder(frames: Sequence[Sighting], sizes: Floats, rounds: Indices) -> Ladder | None:
    """Return whether frames that differ in exposure alone agree; None with fewer than two steps.

    sizes: ln size of each frame. Frames are taken at the most common ISO, distance, source and
    focus. Steps are held against each other by an F test (statsmodels), rounds apart.
    """
    others = [_others(s) for s in frames]
    common = Counter(others).most_common(1)[0][0]
    used = np.array([other == common for other in others])
    steps = np.array([_step(s) if keep else 0 for s, keep in zip(frames, used, strict=True)])
    used &= np.array([s.belongs.exposure_s is not None for s in frames])
    if len(set(steps[used].tolist())) < 2:
        return None
    rows = tuple(
        _row([s for s, k in zip(frames, used & (steps == step), strict=True) if k],
             sizes[used & (steps == step)])
        for step in sorted(set(steps[used].tolist()))
    )  # fmt: skip
    probability = _probability(sizes[used], steps[used], rounds[used])
    if probability is None:
        return Ladder(LadderVerdict.NOT_TOLD, rows, None)
    verdict = LadderVerdict.DIFFER if probability < CHANCE else LadderVerdict.AGREE
    return Ladder(verdict, rows, probability)


def _others(sighting: Sighting) -> tuple[float | None, ...]:
    belongs = sighting.belongs
    return belongs.iso, belongs.distance_m, belongs.source_diameter_mm, belongs.focus_mark


def _step(sighting: Sighting) -> int:
    exposure = sighting.belongs.exposure_s
    return 0 if exposure is None else round(STEPS_A_STOP * math.log2(exposure))


def _row(several: Sequence[Sighting], sizes: Floats) -> LadderStep:
    n = len(several)
    size = float(np.exp(sizes.mean()))
    peaks = [s.spot.peak_share for s in several if s.spot.peak_share is not None]
    return LadderStep(
        exposure_s=several[0].belongs.exposure_s or 0.0,
        frames=n,
        size_px=size,
        err_px=size * float(np.std(sizes, ddof=1)) / math.sqrt(n) if n > 1 else None,
        peak_share=max(peaks) if peaks else None,
    )


def _probability(sizes: Floats, steps: Indices, rounds: Indices) -> float | None:
    """Of steps that differ so much by chance; None where too few frames are left to tell."""
    from statsmodels.regression.linear_model import OLS

    simple = _dummies(rounds)
    both = np.hstack([simple, _dummies(steps)[:, 1:]])
    rank = int(np.linalg.matrix_rank(both))
    if sizes.size - rank < LEAST_DOF or rank == np.linalg.matrix_rank(simple):
        return None
    return float(OLS(sizes, both).fit().compare_f_test(OLS(sizes, simple).fit())[1])


def _dummies(numbers: Indices) -> Floats:
    columns: Floats = (numbers[:, None] == np.unique(numbers)).astype(np.float64)
    return columns
