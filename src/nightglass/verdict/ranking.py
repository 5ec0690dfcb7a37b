"""The order of lenses: best setting of each, shared places, gain over the next."""

from __future__ import annotations

import math
from collections.abc import Sequence

from nightglass.verdict.factors import Weights
from nightglass.verdict.gain import gain_interval
from nightglass.verdict.records import Interval, Standing
from nightglass.verdict.score import Judged, score_spread
from nightglass.verdict.spread import chosen_quantile, log_variance


def best_of_each_lens(judged: Sequence[Judged]) -> list[Judged]:
    """Return the best setting of each lens on each body, in the order of the ranking.

    The best is the highest score among its eligible settings; a lens without one stands with its
    tightest, below all eligible ones. Equal values are ordered by name, whatever the input order.
    """
    lenses: dict[tuple[str, str], list[Judged]] = {}
    for item in judged:
        setting = item.worth.setting
        lenses.setdefault((setting.body, setting.lens), []).append(item)
    return sorted((min(items, key=_order) for items in lenses.values()), key=_order)


def standings(best: Sequence[Judged], weights: Weights) -> tuple[Standing, ...]:
    """Return the places of lenses, given their best settings in order.

    Place = 1 + the number of settings that are better with the whole interval above zero, so that
    ties share a place. The interval is widened for having compared all of them (Tukey), so that
    place and gain over the next agree. Over-limit lenses stand below all eligible ones by their
    tightness. weights: the powers of the factors in the score.
    """
    return tuple(_standing(best, k, weights) for k in range(len(best)))


def better_for_sure(upper: Judged, lower: Judged, weights: Weights, compared: int) -> bool:
    """Return whether the score of upper beats that of lower with the whole interval above zero.

    Without a known scatter any higher score does; equal scores never do.
    """
    gain = _gain(upper, lower, weights, compared)
    return gain is not None and (gain.value if gain.low is None else gain.low) > 0


def tighter_for_sure(upper: Judged, lower: Judged, compared: int) -> bool:
    """Return whether upper has less blur than lower with the whole interval above zero."""
    ahead = math.log(lower.worth.lens_tightness_percent / upper.worth.lens_tightness_percent)
    errors = [_worst_log_err(item) for item in (upper, lower)]
    if any(math.isnan(e) for e in errors):
        return ahead > 0
    # The degrees of freedom of the repeats, however the factors are weighed.
    equal = dict.fromkeys(upper.worth.factors, 1.0)
    freedom = min(log_variance(item.zones, equal)[1] for item in (upper, lower))
    return ahead > chosen_quantile(compared, freedom) * math.hypot(*errors)


def _standing(best: Sequence[Judged], k: int, weights: Weights) -> Standing:
    item, peers = best[k], [other for other in best if not other.worth.eligible]
    eligible = [other for other in best if other.worth.eligible]
    below = 0
    if item.worth.eligible:
        peers = eligible
    else:
        below = len(eligible)
    compared = max(2, len(peers))
    if item.worth.eligible:
        ahead = [p for p in peers if p is not item and better_for_sure(p, item, weights, compared)]
        behind = [p for p in peers if p is not item and better_for_sure(item, p, weights, compared)]
    else:
        ahead = [p for p in peers if p is not item and tighter_for_sure(p, item, compared)]
        behind = [p for p in peers if p is not item and tighter_for_sure(item, p, compared)]
    tied = [p for p in peers if not any(p is q for q in (item, *ahead, *behind))]
    after = best[k + 1] if k + 1 < len(best) else None
    gain = None
    if after is not None and item.worth.eligible and after.worth.eligible:
        gain = _gain(item, after, weights, compared)
    return Standing(
        place=1 + below + len(ahead),
        worth=item.worth,
        over_limit=not item.worth.eligible,
        gain_over_next_percent=gain,
        next_lower=None if after is None else after.worth.setting.lens,
        tied_with=tuple(p.worth.setting.lens for p in tied),
    )


def _gain(upper: Judged, lower: Judged, weights: Weights, compared: int) -> Interval | None:
    if not lower.worth.score.value > 0:
        return None
    spread = score_spread(upper, lower, weights, compared)
    return gain_interval(upper.worth.score.value, lower.worth.score.value, spread)


def _worst_log_err(item: Judged) -> float:
    place = item.worth.worst_place
    return next((z.length_log_err for z in item.zones if z.place == place), math.nan)


def _order(item: Judged) -> tuple[bool, float, tuple[str, str, float, float]]:
    worth = item.worth
    key = -worth.score.value if worth.eligible else worth.lens_tightness_percent
    s = worth.setting
    return (not worth.eligible, key, (s.lens, s.body, s.focal_mm, s.f_number))
