"""How often the order of the lenses stays: repeats drawn again, light within its uncertainty, other
weights, other viewers."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np

from nightglass.gear.benchfile import LimitChoice
from nightglass.optics.arrays import Flags, Floats, Indices
from nightglass.verdict.certainty.spread import BOOTSTRAP_LEAST_REPEATS, ZoneSpread
from nightglass.verdict.factors import Factor
from nightglass.verdict.records import OrderFrequency, Standing
from nightglass.verdict.score import Judged, LightMoves

TRIALS = 2000
SEED = 20
LEADING_SHARE = 0.5
"""Settings with at least this share of their lens's best score are tried for every eye: a setting
a stop behind does not come first for another viewer."""
_BEHIND = -1e6
"""Added to the order of lenses over the limit: below every score."""


def leading(judged: Sequence[Judged]) -> list[Judged]:
    """Return the settings that may be their lens's best for another viewer or another weight."""
    best: dict[tuple[str, str], float] = {}
    for item in judged:
        key = (item.worth.setting.body, item.worth.setting.lens)
        best[key] = max(best.get(key, 0.0), item.worth.score.value)
    return [
        item
        for item in judged
        if item.worth.score.value
        >= LEADING_SHARE * best[(item.worth.setting.body, item.worth.setting.lens)]
    ]


def order_frequency(
    judged: Sequence[Judged],
    ranked: Sequence[Standing],
    factors: Sequence[Factor],
    log_eyes: Sequence[float],
    limit: LimitChoice | None = None,
    trials: int = TRIALS,
) -> OrderFrequency | None:
    """Return how often the order stays; None for fewer than two lenses.

    Each trial draws the repeats of every zone again, each lens's transmission (with what flats
    leave open of all lenses together) and each setting's darker corners, one share for the weights
    of the factors (stars from a = 0.25 to 0.75, glow the rest), and an eye between phone and print:
    even in the logarithm of its blur, between the three eyes log_eyes (ln of eye_percent) by a
    parabola. A limit on the lens's worst blur is held against the redrawn blur. The whole order
    holds if every lens stands as listed. Factors follow
    the noise areas by their powers at the measured values. Raises ValueError for fewer than one
    trial.
    """
    if trials < 1:
        raise ValueError(f"trials is {trials}; at least 1, {TRIALS} by default")
    if len(ranked) < 2:
        return None
    rng = np.random.default_rng(SEED)
    ends = {factor.code: factor.tried_weights for factor in factors}
    share = rng.random(trials)
    weights = {code: first + (last - first) * share for code, (first, last) in ends.items()}
    eyes = _eye_weights(np.asarray(log_eyes, dtype=np.float64), rng.random(trials))
    keys = _keys_of_lenses(judged, ranked, weights, eyes, limit, rng)
    firsts = np.bincount(np.argmax(keys, axis=1), minlength=len(ranked)) / trials
    listed = np.arange(len(ranked))
    return OrderFrequency(
        first_shares=tuple(
            (s.worth.setting.lens, float(share)) for s, share in zip(ranked, firsts, strict=True)
        ),
        whole_order_share=float((~passed(keys, listed)).mean()),
        trials=trials,
        tried_weights=ends,
    )


def passed(keys: Floats, places: Floats | Indices) -> Flags:
    """Return for each row of keys (trials, lenses) whether a lens passes one of a higher place."""
    higher = places[:, None] < places[None, :]
    return np.asarray(((keys[:, :, None] < keys[:, None, :]) & higher).any(axis=(1, 2)))


def _eye_weights(log_eyes: Floats, share: Floats) -> Floats:
    """Lagrange's weights (trials, eyes) of the tried eyes at eyes drawn between the outer ones."""
    at = log_eyes.min() + share * np.ptp(log_eyes)
    weights = np.ones((share.size, log_eyes.size))
    for k, node in enumerate(log_eyes):
        for other in np.delete(log_eyes, k):
            weights[:, k] *= (at - other) / (node - other)
    return weights


def _keys_of_lenses(
    judged: Sequence[Judged],
    ranked: Sequence[Standing],
    weights: Mapping[str, Floats],
    eyes: Floats,
    limit: LimitChoice | None,
    rng: np.random.Generator,
) -> Floats:
    """(trials, lenses): the higher stands higher."""
    trials = len(eyes)
    owners = {(s.worth.setting.body, s.worth.setting.lens): k for k, s in enumerate(ranked)}
    within = np.full((trials, len(ranked)), -np.inf)
    beyond = np.full((trials, len(ranked)), -np.inf)
    glass = rng.standard_normal((trials, len(ranked)))
    drifts = _shared_draws(judged, trials)
    # A stream of its own: benches without flats keep their draws.
    common = np.random.default_rng([SEED, 1]).standard_normal(trials)
    # Ordered, so that the draws don't depend on the order of the input.
    for item in sorted(judged, key=lambda i: i.worth.setting):
        k = owners[(item.worth.setting.body, item.worth.setting.lens)]
        moved, blur = _redrawn(item, tuple(weights), drifts, rng)
        dark = np.abs(rng.standard_normal(trials))
        score = np.zeros(trials)
        for code, weight in weights.items():
            value = item.worth.factors[code]
            log = math.log(value) if value > 0 else -math.inf
            light = item.moves.get(code, LightMoves())
            seen = eyes @ np.asarray(item.eyes[code]) if item.eyes.get(code) else 0.0
            shifted = light.transmission * glass[:, k] + light.darker * dark + seen
            shifted = shifted + light.common * common
            if light.own_err > 0:
                shifted = shifted + light.own_err * rng.standard_normal(trials)
            score += weight * (log + moved[code] + shifted)
        kept = np.full(trials, item.worth.eligible)
        if limit is not None and (limit.on, limit.at) == ("lens", "worst"):
            kept = blur <= limit.percent
        within[:, k] = np.maximum(within[:, k], np.where(kept, score, -np.inf))
        beyond[:, k] = np.maximum(beyond[:, k], score)
    return np.where(np.isfinite(within), within, _BEHIND + beyond)


def _redrawn(
    item: Judged, codes: Sequence[str], drifts: Floats, rng: np.random.Generator
) -> tuple[dict[str, Floats], Floats]:
    """Changes of ln(factor) by code, and blur of the worst zone [% of height], when frames are
    redrawn.

    A frame with a wider spot has the larger noise area too: one draw moves both. drifts: what
    drift and sessions move, drawn once for all settings (errors, trials).
    """
    trials = drifts.shape[1]
    moved, worst = {code: np.zeros(trials) for code in codes}, np.zeros(trials)
    for zone in item.zones:
        draw = _standard_draws(zone, trials, rng)
        err = 0.0 if math.isnan(zone.log_area_err) else zone.log_area_err
        length_err = 0.0 if math.isnan(zone.length_log_err) else zone.length_log_err
        area, length = err * draw, length_err * draw
        if zone.shared is not None:
            visit = rng.standard_normal(trials)
            area = area + zone.shared.area @ drifts + zone.shared.visit_area * visit
            length = length + zone.shared.length @ drifts + zone.shared.visit_length * visit
        for code in codes:
            moved[code] += zone.powers.get(code, 0.0) * area
        worst = np.maximum(worst, zone.length_percent * np.exp(length))
    return moved, worst


def _shared_draws(judged: Sequence[Judged], trials: int) -> Floats:
    """Errors that all settings share, in their units: (errors, trials), none without any."""
    shared = [z.shared for item in judged for z in item.zones if z.shared is not None]
    if not shared:
        return np.zeros((0, trials))
    # By numbers of their own, so that a bench without them draws as before.
    rng = np.random.default_rng([SEED, 2])
    size = len(shared[0].area), trials
    return rng.standard_t(min(one.degrees_of_freedom for one in shared), size)


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
