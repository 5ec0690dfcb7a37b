"""Which evening and which moment a plan is for."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

from nightglass.almanac.ephemeris import MILKY_WAY_CENTRE, Target
from nightglass.almanac.night import nights
from nightglass.plan.aim import best_time, local_time
from nightglass.plan.dates import day
from nightglass.plan.where import Where
from nightglass.plan.wishes import WhenWish


def coming_evening(there: Where, now: datetime | None = None) -> date:
    """Return the date of the coming or running night at a place; now: aware, else the clock's."""
    clock = datetime.now(UTC) if now is None else now
    return (clock - timedelta(hours=12)).astimezone(there.place.zone).date()


def evening_of(text: str | None, there: Where) -> date:
    """Return the evening that was typed, or the coming one. Raises ValueError as `day` does."""
    return coming_evening(there) if text is None else day(text)


def moment_of(wish: WhenWish, there: Where, target: Target = MILKY_WAY_CENTRE) -> datetime:
    """Return the moment typed, or the best one of the night for a target; aware, local.

    Raises ValueError for dates and times that no calendar or clock has.
    """
    evening = evening_of(wish.date, there)
    if wish.time is not None:
        return local_time(wish.time, there.place, evening)
    (night,) = nights(there.place, evening, 1, target, there.horizon)
    return best_time(night)
