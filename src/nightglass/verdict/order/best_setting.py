"""What stands beside a lens's best setting: tighter and wider ones, other times, bad corners."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

from nightglass.bench.faults.copies import CopyFinding, CopyVerdict
from nightglass.gear.lens import LensSetting
from nightglass.verdict.asked import Asked
from nightglass.verdict.candidate import Candidate, at_time, without_place
from nightglass.verdict.codes import LossReason
from nightglass.verdict.records import Standing, UnevenCorners, WideOpen, Worth
from nightglass.verdict.score import Judged
from nightglass.verdict.view.look import Shape

THIRD_OF_A_STOP = 2 ** (-1 / 3)
"""Score that a third of a stop less leaves: 79 %."""
SHORTER, LONGER = 0.7, 1.4
"""Half a stop less and more time."""
_SHAPES = (Shape.POINTS, Shape.DRAWN_OUT, Shape.STREAKS)


def with_neighbours(
    standing: Standing,
    scored: Sequence[Judged],
    candidates: Mapping[LensSetting, Candidate],
    asked: Asked,
    copies: Mapping[LensSetting, CopyFinding],
) -> Standing:
    """Return a standing with what stands beside its best setting.

    copies: what each setting says of its copy.
    """
    own = standing.worth
    one, copy = candidates[own.setting], copies.get(own.setting)
    same_lens = [
        item.worth
        for item in scored
        if (item.worth.setting.body, item.worth.setting.lens)
        == (own.setting.body, own.setting.lens)
    ]
    if not own.score.value > 0:
        return replace(standing, wide_open=_wide_open(own, same_lens), copy=copy)
    cases = [at_time(one, times, asked.question, asked.bench) for times in (SHORTER, LONGER)]
    shorter, longer = asked.scores(cases, [own, own])
    return replace(
        standing,
        tighter=_tighter(own, same_lens),
        wide_open=_wide_open(own, same_lens),
        copy=copy,
        uneven=_uneven(one, own, copy, asked),
        shorter_score=shorter,
        longer_score=longer,
    )


def _tighter(own: Worth, same_lens: Sequence[Worth]) -> Worth | None:
    """The tightest setting that loses less than a third of a stop."""
    near = [
        w
        for w in same_lens
        if w.setting.focal_mm == own.setting.focal_mm
        and w.score.value >= THIRD_OF_A_STOP * own.score.value
        and w.lens_tightness_percent < own.lens_tightness_percent
        and w.eligible >= own.eligible
    ]
    return min(near, key=lambda w: (w.lens_tightness_percent, w.setting), default=None)


def _wide_open(own: Worth, same_lens: Sequence[Worth]) -> WideOpen | None:
    """The widest opening measured at the best setting's focal length, if it is another one."""
    there = [w for w in same_lens if w.setting.focal_mm == own.setting.focal_mm]
    widest = min(there, key=lambda w: w.setting.f_number)
    if widest.setting == own.setting:
        return None
    stops = math.log2(widest.gathered_mm2_s / own.gathered_mm2_s)
    return WideOpen(widest, stops, _loss_reason(widest, own))


def _loss_reason(widest: Worth, own: Worth) -> LossReason:
    if own.eligible and not widest.eligible:
        return LossReason.OVER_LIMIT
    # By the middle one of the three views: a screen.
    its, ours = (w.looks[len(w.looks) // 2].worst for w in (widest, own))
    if _SHAPES.index(its) <= _SHAPES.index(ours):
        return LossReason.BLUR
    return LossReason.STREAKS if its is Shape.STREAKS else LossReason.DRAWN_OUT


def _uneven(
    one: Candidate, own: Worth, copy: CopyFinding | None, asked: Asked
) -> UnevenCorners | None:
    """What a bad side costs, where the places at equal radius call the copy uneven."""
    if copy is None or copy.verdict is not CopyVerdict.UNEVEN:
        return None
    worst, best, ratio, chance = copy.worst_place, copy.best_place, copy.ratio, copy.chance
    if worst is None or best is None or ratio is None or chance is None:
        return None
    without = asked.score(without_place(one, worst, asked.question, asked.bench), own)
    return UnevenCorners(worst, best, ratio, chance, copy.at_least, without)
