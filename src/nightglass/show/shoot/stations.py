"""The shot list as stations for check list and print: a lens at a focal length, its aims, its rows
of boxes to tick."""

from __future__ import annotations

from typing import Any

from nightglass.shoot.codes import ExposureSource, Role
from nightglass.shoot.plan import distance_of
from nightglass.shoot.records import Aim, BenchPlan, Block, Distance
from nightglass.show.shoot.sentences import mm_down
from nightglass.show.shoot.words import (
    ROLES,
    count_words,
    exposure_words,
    hours_words,
    metres,
    turn_words,
)
from nightglass.show.words import f_number, title_of


def stations(plan: BenchPlan) -> list[dict[str, Any]]:
    """Return the blocks of a plan, those that share lens, focal length and role in one station."""
    found: list[dict[str, Any]] = []
    last: tuple[Role, str, float] | None = None
    order = 0
    for number, block in enumerate(plan.blocks, start=1):
        key = (block.role, block.setting.lens, block.setting.focal_mm)
        if key != last:
            found.append(_station(plan, block))
        found[-1]["blocks"].append(_block(block, number, order))
        order += block.frames
        last = key
    return found


def _station(plan: BenchPlan, block: Block) -> dict[str, Any]:
    setting = block.setting
    spaced = distance_of(plan, setting.lens, setting.focal_mm)
    aims = {aim.place: aim for aim in spaced.aims}
    title = title_of(setting.lens, setting.focal_mm)
    role = "" if block.role is Role.MEASURE else ROLES[block.role]
    return {
        "title": title,
        "role": role,
        "distance": _distance_words(spaced),
        "places": [_place(aims[line.place], spaced) for line in block.lines],
        "blocks": [],
    }


def _distance_words(spaced: Distance) -> str:
    away = f"source at {metres(spaced.distance_m or 0)}"
    return f"{away}, at most {mm_down(spaced.largest_source_mm)} wide"


def _place(aim: Aim, spaced: Distance) -> dict[str, str]:
    stand = metres(aim.stand_m) if aim.stand_m is not None else ""
    same = aim.stand_m is None or abs(aim.stand_m - (spaced.distance_m or 0)) < 0.005
    return {"name": aim.place, "turn": turn_words(aim), "stand": "" if same else stand}


def _block(block: Block, number: int, order: int) -> dict[str, Any]:
    steps = {exposure_words(line.exposure) for line in block.lines}
    known = block.lines[0].exposure.source is not ExposureSource.UNKNOWN
    return {
        "number": number,
        "f": f_number(block.setting.f_number),
        "rounds": block.rounds,
        "rounds_words": count_words(block.rounds, "round"),
        "minutes": block.minutes,
        "minutes_words": hours_words(block.minutes),
        "frames": block.frames,
        "exposure": exposure_words(block.lines[0].exposure) if known else "",
        "one_exposure": len(steps) == 1,
        "rows": [
            {
                "place": line.place,
                "exposure": exposure_words(line.exposure),
                "boxes": [
                    {
                        "key": f"{line.id}-{turn}",
                        "turn": turn,
                        # A round goes over all places before the next one begins.
                        "order": order + (turn - 1) * len(block.lines) + k,
                    }
                    for turn in range(1, block.rounds + 1)
                ],
            }
            for k, line in enumerate(block.lines)
        ],
    }
