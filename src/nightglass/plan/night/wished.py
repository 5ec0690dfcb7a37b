"""Nights as a person asks for them: from the words typed to the plan."""

from __future__ import annotations

from pathlib import Path

from nightglass.almanac.night import nights
from nightglass.plan.dates import span
from nightglass.plan.moment import coming_evening, evening_of
from nightglass.plan.night.night import NightPlan, SkyAssumed, plan_of
from nightglass.plan.night.season import Season, plan_season
from nightglass.plan.targets import target
from nightglass.plan.where import wished_place
from nightglass.plan.wishes import NightsWish, SeasonWish


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
