"""The bench plan for the terminal."""

from __future__ import annotations

from pathlib import Path

from nightglass.shoot.codes import ExposureSource
from nightglass.shoot.records import BenchPlan
from nightglass.show.columns import table_lines
from nightglass.show.shoot.cautions import REMINDERS, SHORT_CAUTIONS
from nightglass.show.shoot.sentences import (
    cut_lines,
    distance_line,
    focus_lines,
    opening,
    problem_lines,
    source_line,
)
from nightglass.show.shoot.tables import NUMBERS, aim_rows, distance_rows, shot_rows


def plan_lines(plan: BenchPlan, width: int | None) -> list[str]:
    """Return the plan as lines: the answer, the tables, then what must not be forgotten.

    width: columns of the terminal; None for a file or a pipe.
    """
    lines = opening(plan)
    if plan.cuts:
        lines += ["What the short plan costs:", *(f"  - {line}" for line in cut_lines(plan))]
    lines += [*problem_lines(plan), ""]
    lines += ["How far the source stands", distance_line(plan), source_line(plan)]
    lines += _indented(table_lines(distance_rows(plan), _inner(width), NUMBERS))
    lines += [*focus_lines(plan), ""]
    lines += [
        "Where to aim, from the star in the centre (star to the left: turn the camera right; star "
        "to the top: tilt it down)",
    ]
    lines += _indented(table_lines(aim_rows(plan), _inner(width), NUMBERS))
    lines += ["", "What to shoot, in the order that saves hands"]
    lines += _indented(table_lines(shot_rows(plan), _inner(width), NUMBERS))
    lines += ["", *_exposure_lines(plan), *(f"- {line}" for line in REMINDERS)]
    return [*lines, "", SHORT_CAUTIONS]


def next_line(folder: Path) -> str:
    """Return the one clear next step."""
    return f'Next: shoot, with  nightglass watch "{folder}"  running beside the camera'


def _exposure_lines(plan: BenchPlan) -> list[str]:
    steps = [line.exposure for line in plan.lines]
    lines = []
    if any(step.marked_s is None for step in steps):
        lines.append(
            '- Exposure "try": shoot one frame, read the peak that nightglass watch says, and '
            "bring it to 40 to 70 %; one stop doubles or halves it."
        )
    if any(step.source is ExposureSource.SCALED for step in steps):
        lines.append("- Exposures with ~ come from other settings of the lens: check the peak.")
    if any(len({line.exposure for line in block.lines}) > 1 for block in plan.blocks):
        lines.append("- Exposures here are for the first place; the check list has all of them.")
    if any(step.flicker for step in steps):
        lines.append("- Some exposures are shorter than 1/50 s, where lamps flicker: dim the LED.")
    return lines


def _inner(width: int | None) -> int | None:
    return None if width is None else width - 2


def _indented(lines: list[str]) -> list[str]:
    return [f"  {line}" for line in lines]
