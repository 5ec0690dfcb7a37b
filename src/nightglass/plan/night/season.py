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
from nightglass.plan.codes import SeasonCode

BEST_RUNS = 10
LEAST_HOURS = 0.5
"""A night with less usable time is not worth the way: common practice."""
SPAN_SHARE = 0.5
"""Neighbours of a run's best night belong to its span from this share of its worth on."""
MOON_DEGREES_PER_DAY = 360 / 29.530588
"""Mean motion against the sun: the synodic month at J2000."""
SAMPLES_PER_WINDOW = 13


@dataclass(frozen=True)
class BestRun:
    """Neighbouring good nights of one moonless run, about the best of them."""

    rank: int
    first: date
    last: date
    """The run's nights that reach half of the best one's worth, by evening, both included."""
    night: Night
    """The best night of the run."""
    window: Window
    """Its longest window: target up, dark, moonless (dark and moonless where it never is)."""
    hours: float
    """Dark and moonless in that night, the target up (without it where it never is)."""
    days_from_new_moon: float
    """Of that night; negative before new moon."""

    @property
    def nights(self) -> int:
        """How many nights the span holds."""
        return (self.last - self.first).days + 1


@dataclass(frozen=True)
class Season:
    """All nights in order; the best runs by the `worth_hours` of their best night."""

    place: Place
    horizon: Horizon
    target: Target
    nights: tuple[Night, ...]
    worth_hours: tuple[float, ...]
    """Hours with the target up, dark and moonless, each weighed by the light that the air lets
    through, against the zenith."""
    best: tuple[BestRun, ...]
    code: SeasonCode | None
    """Why the target did not choose the nights; None where it did."""

    @property
    def target_hours(self) -> tuple[float, ...]:
        """Hours per night with the target up, dark and moonless."""
        return tuple(_target_hours(n) for n in self.nights)


def plan_season(
    place: Place,
    first: date,
    count: int = 365,
    target: Target = MILKY_WAY_CENTRE,
    horizon: Horizon | None = None,
) -> Season:
    """Return `count` nights from the evening of `first`, and up to ten best runs of them.

    A run holds neighbouring nights about one new moon with half an hour or more of usable time.
    Raises as nightglass.almanac.night.nights does.
    """
    land = horizon or Horizon()
    found = nights(place, first, count, target, land)
    sky = ephemeris(found[0].span.start, found[-1].span.end, (target,))
    worth = _worth_hours(sky, found)
    hours, order_by, code = [_target_hours(n) for n in found], worth, None
    if max(hours) < LEAST_HOURS:
        hours = [n.moonless_hours for n in found]
        order_by, code = hours, SeasonCode.TARGET_NEVER_IN_THE_DARK
    if max(hours) < LEAST_HOURS:
        code = SeasonCode.NO_MOONLESS_DARK
    days = _days_from_new_moon(sky, found)
    spans = [_span(run, order_by) for run in _runs(hours, days)]
    spans.sort(key=lambda span: (-round(order_by[span.best], 3), span.best))
    best = [
        BestRun(
            rank=rank,
            first=found[span.first].date,
            last=found[span.last].date,
            night=found[span.best],
            window=_longest(found[span.best], by_target=code is None),
            hours=hours[span.best],
            days_from_new_moon=days[span.best],
        )
        for rank, span in enumerate(spans[:BEST_RUNS], start=1)
    ]
    return Season(place, land, target, found, tuple(worth), tuple(best), code)


@dataclass(frozen=True)
class _Span:
    """Nights by their number in the season."""

    best: int
    first: int
    last: int


def _runs(hours: list[float], days: list[float]) -> list[list[int]]:
    """Neighbouring nights with enough hours; a run ends where the next new moon comes nearer."""
    runs: list[list[int]] = []
    for k, usable in enumerate(hours):
        if usable < LEAST_HOURS:
            continue
        if runs and runs[-1][-1] == k - 1 and days[k] > days[k - 1]:
            runs[-1].append(k)
        else:
            runs.append([k])
    return runs


def _span(run: list[int], worth: list[float]) -> _Span:
    """The best night of a run and its neighbours down to half of its worth."""
    best = first = last = max(run, key=lambda k: (round(worth[k], 3), -k))
    least = SPAN_SHARE * worth[best]
    while first - 1 in run and worth[first - 1] >= least:
        first -= 1
    while last + 1 in run and worth[last + 1] >= least:
        last += 1
    return _Span(best, first, last)


def _target_hours(night: Night) -> float:
    return sum(w.hours for w in night.target.up_and_dark)


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


def _longest(night: Night, by_target: bool) -> Window:
    windows = night.target.up_and_dark if by_target else night.moonless
    return max(windows, key=lambda w: w.hours)
