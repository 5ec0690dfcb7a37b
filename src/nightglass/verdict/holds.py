"""How often the order of the lenses holds: repeats drawn again, other weights, other limits."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np

from nightglass.gear.benchfile import DEFAULT_LIMIT_PERCENT
from nightglass.optics.arrays import Floats
from nightglass.verdict.factors import FACTORS, Factor
from nightglass.verdict.records import OrderHolds, Standing
from nightglass.verdict.score import Judged
from nightglass.verdict.spread import BOOTSTRAP_LEAST_REPEATS, ZoneSpread

TRIALS = 2000
SEED = 20
LEAST_LIMIT_PERCENT, MOST_LIMIT_PERCENT = 0.15, 0.4
"""Tried limits, % of picture height, for the default limit; in proportion for another one."""
_OVER_LIMIT = -1e6
"""Added to the order of lenses without an eligible setting: below every score."""


def order_holds(
    judged: Sequence[Judged],
    ranked: Sequence[Standing],
    limit_percent: float = DEFAULT_LIMIT_PERCENT,
    trials: int = TRIALS,
    seed: int = SEED,
    factors: Sequence[Factor] = FACTORS,
) -> OrderHolds | None:
    """Return how often the order stays; None for fewer than two lenses.

    Each trial draws the repeats of every zone again, weights between the factors' ends (stars from
    0.25 to 0.75, glow the rest), and a limit from 0.15 to 0.4 % of height (for another limit than
    0.25 in proportion). The first place holds if a lens that shares it comes first; the whole order
    holds if no lens passes one of a higher place. Factors follow the noise areas by their powers at
    the measured values. Raises ValueError for fewer than one trial.
    """
    if trials < 1:
        raise ValueError(f"trials is {trials}; at least 1, {TRIALS} by default")
    if len(ranked) < 2:
        return None
    rng = np.random.default_rng(seed)
    weights = _tried_weights(factors, rng.random(trials))
    scale = limit_percent / DEFAULT_LIMIT_PERCENT
    limits = scale * rng.uniform(LEAST_LIMIT_PERCENT, MOST_LIMIT_PERCENT, trials)
    keys = _keys_of_lenses(judged, ranked, weights, limits, rng)
    places = np.array([s.place for s in ranked])
    first = np.isin(np.argmax(keys, axis=1), np.flatnonzero(places == places.min()))
    higher = places[:, None] < places[None, :]
    passed = (keys[:, :, None] < keys[:, None, :]) & higher
    return OrderHolds(
        first_place_share=float(first.mean()),
        whole_order_share=float((~passed.any(axis=(1, 2))).mean()),
        trials=trials,
        tried_weights={factor.code: factor.tried_weights for factor in factors},
        limit_least_percent=scale * LEAST_LIMIT_PERCENT,
        limit_most_percent=scale * MOST_LIMIT_PERCENT,
    )


def _tried_weights(factors: Sequence[Factor], share: Floats) -> dict[str, Floats]:
    """Weights of the factors by code, one per trial: all from the same draw between 0 and 1."""
    ends = {factor.code: factor.tried_weights for factor in factors}
    return {code: first + (last - first) * share for code, (first, last) in ends.items()}


def _keys_of_lenses(
    judged: Sequence[Judged],
    ranked: Sequence[Standing],
    weights: Mapping[str, Floats],
    limits: Floats,
    rng: np.random.Generator,
) -> Floats:
    """(trials, lenses): the higher stands higher."""
    owners = {(s.worth.setting.body, s.worth.setting.lens): k for k, s in enumerate(ranked)}
    best = np.full((limits.size, len(ranked)), -np.inf)
    tightest = np.full((limits.size, len(ranked)), np.inf)
    # Ordered, so that the draws don't depend on the order of the input.
    for item in sorted(judged, key=lambda i: i.worth.setting):
        k = owners[(item.worth.setting.body, item.worth.setting.lens)]
        moved, blur = _drawn(item, tuple(weights), limits.size, rng)
        score = np.zeros(limits.size)
        for code, weight in weights.items():
            value = item.worth.factors[code]
            log = math.log(value) if value > 0 else -math.inf
            score += weight * (log + moved[code])
        best[:, k] = np.maximum(best[:, k], np.where(blur <= limits, score, -np.inf))
        tightest[:, k] = np.minimum(tightest[:, k], blur)
    return np.where(np.isfinite(best), best, _OVER_LIMIT - tightest)


def _drawn(
    item: Judged, codes: Sequence[str], trials: int, rng: np.random.Generator
) -> tuple[dict[str, Floats], Floats]:
    """Changes of ln(factor) by code, and blur of the worst zone [% of height], when frames are
    redrawn.

    A frame with a wider spot has the larger noise area too: one draw moves both.
    """
    moved, worst = {code: np.zeros(trials) for code in codes}, np.zeros(trials)
    for zone in item.zones:
        draw = _standard_draws(zone, trials, rng)
        err = 0.0 if math.isnan(zone.log_area_err) else zone.log_area_err
        length_err = 0.0 if math.isnan(zone.length_log_err) else zone.length_log_err
        for code in codes:
            moved[code] += zone.powers.get(code, 0.0) * err * draw
        worst = np.maximum(worst, zone.length_percent * np.exp(length_err * draw))
    for code, err in item.log_errs.items():
        if err > 0 and code in moved:
            moved[code] += err * rng.standard_normal(trials)
    return moved, worst


def _standard_draws(zone: ZoneSpread, trials: int, rng: np.random.Generator) -> Floats:
    """Means of redrawn frames in units of their error: from the frames themselves if there are 8
    or more, else Student's t of the pooled scatter."""
    values = np.asarray(zone.repeats)
    if values.size >= BOOTSTRAP_LEAST_REPEATS and (sigma := float(values.std())) > 0:
        picks = rng.integers(0, values.size, size=(trials, values.size))
        return np.asarray(values[picks].mean(axis=1) / (sigma / math.sqrt(values.size)))
    if math.isinf(zone.degrees_of_freedom):
        return rng.standard_normal(trials)
    return rng.standard_t(zone.degrees_of_freedom, trials)
