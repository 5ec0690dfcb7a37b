"""One frame of a night as a person asks for it: from the words typed to the plan."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from nightglass.almanac.ephemeris import MILKY_WAY_CENTRE
from nightglass.plan.aim import aim_wish
from nightglass.plan.gear_choice import GearNote, gear_choice
from nightglass.plan.moment import moment_of
from nightglass.plan.night.land import (
    BLUE_HOUR_DEGREES,
    ISO_TAKEN,
    LandExposure,
    LandFocus,
    land_exposure,
    land_focus,
)
from nightglass.plan.night.tonight import Tonight, plan_tonight
from nightglass.plan.where import wished_place
from nightglass.plan.wishes import TonightWish


@dataclass(frozen=True)
class TonightPlan:
    """Settings of a frame, what its land needs, and how its gear was found."""

    settings: Tonight
    focus: LandFocus
    exposure: LandExposure | None
    """None while the sun lights the land."""
    notes: tuple[GearNote, ...]


def wished_tonight(wish: TonightWish, folder: Path) -> TonightPlan:
    """Return the settings of the frame asked for.

    Raises ValueError for words that are no place, aim, date or gear, and for aims that show no
    sky.
    """
    there = wished_place(wish.place, folder)
    chosen = gear_choice(wish.gear, folder)
    look = aim_wish(wish.look.aim, wish.look.roll_degrees)
    moment = moment_of(wish.when, there, look.target or MILKY_WAY_CENTRE)
    plan = plan_tonight(
        chosen.shot,
        there.place,
        moment,
        look,
        there.horizon,
        chosen.tolerance,
        wish.look.roll_degrees,
    )
    shot = chosen.shot
    light = None
    if plan.sun_degrees < BLUE_HOUR_DEGREES[1]:
        iso = plan.iso.iso or ISO_TAKEN
        light = land_exposure(shot.f_number, iso, plan.moon_degrees, plan.moon_phase_angle_degrees)
    focus = land_focus(shot.focal_mm, shot.f_number, shot.width_mm, shot.height_mm)
    return TonightPlan(plan, focus, light, chosen.notes)
