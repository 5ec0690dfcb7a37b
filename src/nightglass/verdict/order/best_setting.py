"""What stands beside a lens's best setting: tighter and wider ones, other times, bad corners."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

from nightglass.gear.benchfile import BenchFile
from nightglass.gear.lens import LensSetting
from nightglass.verdict.asked import Asked
from nightglass.verdict.candidate import Candidate, at_time, without_place
from nightglass.verdict.certainty.spread import CONFIDENCE, ZoneSpread
from nightglass.verdict.certainty.studentised import range_quantile
from nightglass.verdict.codes import LossReason
from nightglass.verdict.records import Standing, UnevenCorners, WideOpen, Worth
from nightglass.verdict.score import Judged
from nightglass.verdict.view.look import Shape

THIRD_OF_A_STOP = 2 ** (-1 / 3)
"""Score that a third of a stop less leaves: 79 %."""
SHORTER, LONGER = 0.7, 1.4
"""Half a stop less and more time."""
CORNER_RADIUS = 0.6
"""Places farther out than this field radius count as corners."""
LEAST_CORNERS = 3
_MANY = 1e4
_SHAPES = (Shape.POINTS, Shape.DRAWN_OUT, Shape.STREAKS)


def with_neighbours(
    standing: Standing,
    scored: Sequence[Judged],
    candidates: Mapping[LensSetting, Candidate],
    asked: Asked,
) -> Standing:
    """Return a standing with what stands beside its best setting."""
    own = standing.worth
    one = candidates[own.setting]
    same_lens = [
        item.worth
        for item in scored
        if (item.worth.setting.body, item.worth.setting.lens)
        == (own.setting.body, own.setting.lens)
    ]
    zones = next(item.zones for item in scored if item.worth.setting == own.setting)
    if not own.score.value > 0:
        return replace(standing, wide_open=_wide_open(own, same_lens))
    shorter, longer = (
        asked.score(at_time(one, times, asked.question, asked.bench), own)
        for times in (SHORTER, LONGER)
    )
    return replace(
        standing,
        tighter=_tighter(own, same_lens),
        wide_open=_wide_open(own, same_lens),
        uneven=_uneven(one, own, zones, asked),
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
    one: Candidate, own: Worth, spreads: Sequence[ZoneSpread], asked: Asked
) -> UnevenCorners | None:
    """Corners that differ beyond their errors, where the centre and three or more are measured.

    The range of the corners' ln(length) against their error, by the studentised range: in 5 % of
    sound lenses it reports a difference that is none.
    """
    radii = {zone.place: zone.field_radius for zone in one.zones}
    corners = [z for z in spreads if radii[z.place] >= CORNER_RADIUS and z.length_log_err > 0]
    quadrants = {_quadrant(one, zone.place, asked.bench) for zone in corners}
    if len(quadrants) < LEAST_CORNERS or min(radii.values()) >= CORNER_RADIUS:
        return None
    err = math.sqrt(sum(z.length_log_err**2 for z in corners) / len(corners))
    freedom = min(min(z.degrees_of_freedom for z in corners), _MANY)
    worst = max(corners, key=lambda z: z.length_percent)
    best = min(corners, key=lambda z: z.length_percent)
    ratio = worst.length_percent / best.length_percent
    reach = range_quantile(CONFIDENCE, len(corners), max(freedom, 1.0)) * err
    if math.isnan(err) or math.log(ratio) <= reach:
        return None
    without = asked.score(without_place(one, worst.place, asked.question, asked.bench), own)
    return UnevenCorners(worst.place, best.place, ratio, without)


def _quadrant(one: Candidate, place: str, bench: BenchFile) -> tuple[bool, bool]:
    zone = next(zone for zone in one.zones if zone.place == place)
    return zone.x_px > bench.body.width_px / 2, zone.y_px > bench.body.height_px / 2
