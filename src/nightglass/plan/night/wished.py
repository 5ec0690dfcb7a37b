"""Nights and frames of a night as a person asks for them: from the words typed to the plan."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from nightglass.almanac.ephemeris import MILKY_WAY_CENTRE
from nightglass.almanac.night import nights
from nightglass.plan.aim import aim_wish
from nightglass.plan.dates import span
from nightglass.plan.gear_choice import GearNote, gear_choice
from nightglass.plan.moment import coming_evening, evening_of, moment_of
from nightglass.plan.night.land import (
    BLUE_HOUR_DEGREES,
    ISO_TAKEN,
    LandExposure,
    LandFocus,
    land_exposure,
    land_focus,
)
from nightglass.plan.night.night import NightPlan, SkyAssumed, plan_of
from nightglass.plan.night.season import Season, plan_season
from nightglass.plan.night.tonight import Tonight, plan_tonight
from nightglass.plan.targets import target
from nightglass.plan.where import wished_place
from nightglass.plan.wishes import NightsWish, SeasonWish, TonightWish


@dataclass(frozen=True)
class TonightPlan:
    """Settings of a frame, what its land needs, and how its gear was found."""

    settings: Tonight
    focus: LandFocus
    exposure: LandExposure | None
    """None while the sun lights the land."""
    notes: tuple[GearNote, ...]


def wished_nights(wish: NightsWish, folder: Path) -> list[NightPlan]:
    """Return the plan of each night asked for; a bench folder keeps the site.

    Raises ValueError for words that are no place, date, target or sky.
    """
    there = wished_place(wish.place, folder)
    first, count = (coming_evening(there), 1) if wish.date is None else span(wish.date)
    assumed = SkyAssumed() if wish.sky_mag is None else SkyAssumed(dark_zenith_mag=wish.sky_mag)
    found = nights(there.place, first, count, target(wish.target), there.horizon)
    return [plan_of(night, there.horizon, assumed) for night in found]


def wished_season(wish: SeasonWish, folder: Path) -> Season:
    """Return the season asked for. Raises as wished_nights does."""
    there = wished_place(wish.place, folder)
    first = evening_of(wish.first, there)
    return plan_season(there.place, first, wish.nights, target(wish.target), there.horizon)


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
