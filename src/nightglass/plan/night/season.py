"""A run of nights at one place, and the best of them for a target."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np

from nightglass.almanac.ephemeris import (
    MILKY_WAY_CENTRE,
    Ephemeris,
    Target,
    ephemeris,
    unix_seconds,
)
from nightglass.almanac.horizon import Horizon, seen_altitude_degrees
from nightglass.almanac.horizontal import look
from nightglass.almanac.night import Night, nights
from nightglass.almanac.phases import moon_age_degrees
from nightglass.almanac.place import Place
from nightglass.almanac.windows import Window
from nightglass.light.atmosphere import airmass_kasten_young1989, extinction_mag
from nightglass.optics.arrays import Floats
from nightglass.plan.night.night import compass

BEST_NIGHTS = 10
MOON_DEGREES_PER_DAY = 360 / 29.530588
"""Mean motion against the sun: the synodic month at J2000."""
SAMPLES_PER_WINDOW = 13


@dataclass(frozen=True)
class BestNight:
    """One of the nights to go, and why."""

    rank: int
    night: Night
    window: Window
    """Its longest window: target up, dark, moonless (dark and moonless where it never rises)."""
    reason: str


@dataclass(frozen=True)
class Season:
    """All nights in order; the best of them by `worth_hours`."""

    place: Place
    horizon: Horizon
    target: Target
    nights: tuple[Night, ...]
    worth_hours: tuple[float, ...]
    """Hours with the target up, dark and moonless, each weighed by the light that the air lets
    through, against the zenith."""
    best: tuple[BestNight, ...]
    words: str

    @property
    def target_hours(self) -> tuple[float, ...]:
        """Hours per night with the target up, dark and moonless."""
        return tuple(sum(w.hours for w in n.target.up_and_dark) for n in self.nights)


def plan_season(
    place: Place,
    first: date,
    count: int = 365,
    target: Target = MILKY_WAY_CENTRE,
    horizon: Horizon | None = None,
) -> Season:
    """Return `count` nights from the evening of `first`, and the ten best.

    Raises as nightglass.almanac.night.nights does.
    """
    land = horizon or Horizon()
    found = nights(place, first, count, target, land)
    sky = ephemeris(found[0].span.start, found[-1].span.end, (target,))
    worth = _worth_hours(sky, found)
    words = ""
    order_by = worth
    if not any(w > 0 for w in worth):
        order_by = [n.moonless_hours for n in found]
        words = (
            f"The {target.name} is never up in a dark, moonless hour here; the nights are chosen "
            "by dark and moonless hours alone."
        )
    if not any(h > 0 for h in order_by):
        words = "There is no dark, moonless hour in these nights."
    days = _days_from_new_moon(sky, found)
    chosen = sorted(range(count), key=lambda k: (-round(order_by[k], 3), k))[:BEST_NIGHTS]
    best = [
        BestNight(rank, found[k], _longest(found[k]), _reason(found[k], days[k]))
        for rank, k in enumerate((k for k in chosen if order_by[k] > 0), start=1)
    ]
    return Season(place, land, target, found, tuple(worth), tuple(best), words)


def _worth_hours(sky: Ephemeris, found: tuple[Night, ...]) -> list[float]:
    owners = [k for k, n in enumerate(found) for _ in n.target.up_and_dark]
    spans = [w for n in found for w in n.target.up_and_dark]
    if not spans:
        return [0.0] * len(found)
    shares = (np.arange(SAMPLES_PER_WINDOW) + 0.5) / SAMPLES_PER_WINDOW
    starts: Floats = np.array([unix_seconds(w.start) for w in spans])
    lengths: Floats = np.array([w.hours for w in spans])
    times = starts[:, None] + lengths[:, None] * 3600.0 * shares
    seen = look(sky, found[0].target.target.name, found[0].place, times.ravel())
    altitude = np.clip(seen_altitude_degrees(seen.altitude_degrees), 0.0, 90.0)
    lost = extinction_mag(airmass_kasten_young1989(altitude)) - extinction_mag(1.0)
    light = (10 ** (-0.4 * lost)).reshape(times.shape).mean(axis=1)
    return np.bincount(owners, weights=lengths * light, minlength=len(found)).tolist()


def _days_from_new_moon(sky: Ephemeris, found: tuple[Night, ...]) -> list[float]:
    """Days since new moon, negative before it, at the middle of each night."""
    times: Floats = np.array([unix_seconds(n.sun_lowest_at) for n in found])
    age = moon_age_degrees(sky, times)
    return (np.where(age > 180, age - 360, age) / MOON_DEGREES_PER_DAY).tolist()


def _longest(night: Night) -> Window:
    windows = night.target.up_and_dark or night.moonless
    return max(windows, key=lambda w: w.hours)


def _reason(night: Night, days: float) -> str:
    usable = sum(w.hours for w in night.target.up_and_dark)
    parts = [moon_distance(days)]
    if usable > 0 and night.target.best_degrees is not None:
        parts.append(
            f"{usable:.1f} h dark and moonless with it up, up to {night.target.best_degrees:.0f}° "
            f"in the {compass(night.target.best_azimuth_degrees or 0.0)}"
        )
    else:
        parts.append(f"{night.moonless_hours:.1f} h dark and moonless")
    return ", ".join(parts)


def moon_distance(days: float) -> str:
    """Return how far the new moon is, in words; days since it, negative before it."""
    whole = round(abs(days))
    if whole == 0:
        return "new moon"
    unit = "day" if whole == 1 else "days"
    return f"{whole} {unit} {'after' if days > 0 else 'before'} new moon"
