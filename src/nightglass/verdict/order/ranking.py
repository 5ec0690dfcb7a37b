"""The order of lenses: best setting of each, shared places, gain over the next."""

from __future__ import annotations

from collections.abc import Sequence

from nightglass.verdict.certainty.gain import gain_interval
from nightglass.verdict.factors import Weights
from nightglass.verdict.records import Interval, Standing
from nightglass.verdict.score import Judged, score_spread

OTHER_PICTURE = 1.25
"""Focal lengths farther apart than this ratio make a different picture."""


def best_of_each_lens(judged: Sequence[Judged]) -> list[Judged]:
    """Return the best setting of each lens on each body, in the order of the ranking.

    The best is the highest score among the settings within the person's limit; a lens without one
    stands with its highest score below all that have one. Equal values are ordered by name,
    whatever the input order.
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
    place and gain over the next agree. Lenses over the limit stand below all others, in order of
    their score. weights: the powers of the factors in the score.
    """
    return tuple(_standing(best, k, weights) for k in range(len(best)))


def better_for_sure(upper: Judged, lower: Judged, weights: Weights, compared: int) -> bool:
    """Return whether the score of upper beats that of lower with the whole interval above zero.

    Without a known scatter any higher score does; equal scores never do.
    """
    gain = _gain(upper, lower, weights, compared)
    return gain is not None and (gain.value if gain.low is None else gain.low) > 0


def _standing(best: Sequence[Judged], k: int, weights: Weights) -> Standing:
    item, eligible = best[k], best[k].worth.eligible
    peers = [other for other in best if other.worth.eligible == eligible]
    below = 0 if eligible else len(best) - len(peers)
    compared = max(2, len(peers))
    ahead = [p for p in peers if p is not item and better_for_sure(p, item, weights, compared)]
    behind = [p for p in peers if p is not item and better_for_sure(item, p, weights, compared)]
    tied = [p for p in peers if not any(p is q for q in (item, *ahead, *behind))]
    after = best[k + 1] if k + 1 < len(best) else None
    alike = after is not None and after.worth.eligible == eligible
    return Standing(
        place=1 + below + len(ahead),
        worth=item.worth,
        over_limit=not eligible,
        gain_over_next_percent=_gain(item, after, weights, compared) if after and alike else None,
        next_lower=None if after is None else after.worth.setting.lens,
        tied_with=tuple(p.worth.setting.lens for p in tied),
        different_picture=after is not None and _other_picture(item, after),
    )


def _gain(upper: Judged, lower: Judged, weights: Weights, compared: int) -> Interval | None:
    if not lower.worth.score.value > 0:
        return None
    spread = score_spread(upper, lower, weights, compared)
    return gain_interval(upper.worth.score.value, lower.worth.score.value, spread)


def _other_picture(one: Judged, other: Judged) -> bool:
    pair = sorted((one.worth.setting.focal_mm, other.worth.setting.focal_mm))
    return pair[1] / pair[0] > OTHER_PICTURE


def _order(item: Judged) -> tuple[bool, float, tuple[str, str, float, float]]:
    worth = item.worth
    s = worth.setting
    return (not worth.eligible, -worth.score.value, (s.lens, s.body, s.focal_mm, s.f_number))
