"""The bench plan as rows: for the terminal, and for a spreadsheet."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from nightglass.shoot.plan import distance_of
from nightglass.shoot.records import Aim, BenchPlan, Distance
from nightglass.show.shoot.sentences import mm_down
from nightglass.show.shoot.words import (
    CENTRE_RADIUS,
    ROLES,
    exposure_words,
    hours_words,
    metres,
    turn_words,
)
from nightglass.show.words import f_number, percent

Row = list[str]
SAME_AIM_DEGREES = 0.15
"""Places whose turns differ by less share a line: corners mirrored about the centre."""
NUMBERS = ("mm", "distance", "at least", "source up to", "left at infinity", "stars sharp from",
           "off axis", "stand back", "if you don't", "frames", "after", "no.")  # fmt: skip


def distance_rows(plan: BenchPlan) -> list[Row]:
    """Return how far the source stands from each lens, and what focus has to do with it."""
    titles = ["lens", "mm", "distance", "at least", "source up to", "left at infinity"]
    rows = [[*titles, "stars sharp from"]]
    for d in plan.distances:
        shown = d.distance_m is not None
        rows.append(
            [
                d.lens,
                f"{d.focal_mm:g}",
                metres(d.distance_m) if d.distance_m is not None else "no room",
                metres(d.least_m) if d.least_m is not None else "",
                mm_down(d.largest_source_mm),
                percent(d.left_at_infinity_percent or 0) if shown else "",
                metres(d.star_sharp_m),
            ]
        )
    return rows


def aim_rows(plan: BenchPlan) -> list[Row]:
    """Return where to turn the camera for each place, mirrored places on one line."""
    titles = ["lens", "mm", "places", "off axis", "turn", "stand back", "if you don't"]
    rows = [titles]
    for d in plan.distances:
        if d.distance_m is not None:
            rows += [_aim_row(d, several) for several in _mirrored(_used(d, plan))]
    return rows


def _used(d: Distance, plan: BenchPlan) -> list[Aim]:
    """The aims of places that the plan has, the centre left out."""
    places = {line.place for line in plan.lines}
    return [aim for aim in d.aims if aim.place in places and aim.field_radius > CENTRE_RADIUS]


def _mirrored(aims: Sequence[Aim]) -> list[list[Aim]]:
    groups: list[list[Aim]] = []
    for aim in aims:
        for group in groups:
            if _alike(group[0], aim):
                group.append(aim)
                break
        else:
            groups.append([aim])
    return groups


def _alike(one: Aim, other: Aim) -> bool:
    pairs = ((one.pan_degrees, other.pan_degrees), (one.tilt_degrees, other.tilt_degrees))
    return all(
        a is not None and b is not None and abs(abs(a) - abs(b)) < SAME_AIM_DEGREES
        for a, b in pairs
    )


def _aim_row(d: Distance, several: Sequence[Aim]) -> Row:
    aim = several[0]
    turn = turn_words(aim)
    if len(several) > 1:
        pan, tilt = abs(aim.pan_degrees or 0), abs(aim.tilt_degrees or 0)
        degree = "\N{DEGREE SIGN}"
        turn = f"{pan:.1f}{degree} left or right, {tilt:.1f}{degree} up or down"
    known = aim.stand_m is not None
    return [
        d.lens,
        f"{d.focal_mm:g}",
        aim.place if len(several) == 1 else f"{aim.place} + {len(several) - 1} mirrored",
        f"{aim.off_axis_degrees:.1f}\N{DEGREE SIGN}" if aim.off_axis_degrees is not None else "",
        turn,
        metres(aim.stand_m) if aim.stand_m is not None else "",
        percent(aim.false_blur_percent or 0) if known else "",
    ]


def shot_rows(plan: BenchPlan) -> list[Row]:
    """Return the shot list, a row for each setting, with the time that has passed after it."""
    rows = [["no.", "what", "lens", "mm", "f", "rounds", "frames", "exposure", "after"]]
    passed = 0.0
    for number, block in enumerate(plan.blocks, start=1):
        passed += block.minutes
        places = len(block.lines)
        rows.append(
            [
                str(number),
                ROLES[block.role],
                block.setting.lens,
                f"{block.setting.focal_mm:g}",
                f_number(block.setting.f_number),
                f"{block.rounds} x {places} place{'s' if places > 1 else ''}",
                str(block.frames),
                exposure_words(block.lines[0].exposure),
                hours_words(passed),
            ]
        )
    return rows


def line_rows(plan: BenchPlan) -> list[dict[str, Any]]:
    """Return the shot list, a row for each setting and place; units are in the names."""
    rows = []
    for number, block in enumerate(plan.blocks, start=1):
        setting = block.setting
        spaced = distance_of(plan, setting.lens, setting.focal_mm)
        aims = {aim.place: aim for aim in spaced.aims}
        for line in block.lines:
            aim, step = aims[line.place], line.exposure
            rows.append(
                {
                    "number": number,
                    "line": line.id,
                    "role": block.role.value,
                    "lens": setting.lens,
                    "focal_mm": setting.focal_mm,
                    "f_number": setting.f_number,
                    "place": line.place,
                    "frames": line.frames,
                    "marked_s": step.marked_s,
                    "iso": step.iso,
                    "exposure_from": step.source.value,
                    "distance_m": _rounded(spaced.distance_m, 3),
                    "off_axis_degrees": _rounded(aim.off_axis_degrees, 2),
                    "pan_degrees": _rounded(aim.pan_degrees, 2),
                    "tilt_degrees": _rounded(aim.tilt_degrees, 2),
                    "stand_m": _rounded(aim.stand_m, 3),
                    "false_blur_percent": _rounded(aim.false_blur_percent, 4),
                    "block_minutes": _rounded(block.minutes, 1),
                }
            )
    return rows


def _rounded(value: float | None, digits: int) -> float | None:
    return None if value is None else round(value, digits)
