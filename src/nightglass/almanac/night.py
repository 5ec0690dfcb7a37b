"""The night at a place: twilights, moon, dark windows, and when a target can be seen.

A night of a date runs from one mean solar noon to the next, so that it is whole for any clock.
Definitions (US Naval Observatory, HM Nautical Almanac Office): sunset when the sun's centre is
50' below the level horizon (34' air, 16' radius), moonrise when the moon's upper edge is 34'
below it; twilights at 6, 12 and 18 degrees, without air. The height of the place does not lower
the horizon.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from functools import partial
from itertools import pairwise

import numpy as np

from nightglass.almanac.codes import MoonCode, MoonPhase, SunCode, TargetCode
from nightglass.almanac.crossings import Crossings, crossings, turning_points
from nightglass.almanac.ephemeris import (
    MILKY_WAY_CENTRE,
    DateOutsideEphemerisError,
    Ephemeris,
    Target,
    ephemeris,
    moment,
    unix_seconds,
)
from nightglass.almanac.heights import (
    above_level,
    moon_edge_degrees,
    sun_altitude_degrees,
    target_above_degrees,
)
from nightglass.almanac.horizon import Horizon, seen_altitude_degrees
from nightglass.almanac.horizontal import look
from nightglass.almanac.phases import illuminated_share, phase_names
from nightglass.almanac.place import Place
from nightglass.almanac.unusual import (
    SUNSET_DEGREES,
    TWILIGHTS,
    moon_code,
    sun_code,
    target_code,
)
from nightglass.almanac.windows import Spans, Window, complement, minus, overlap, windows
from nightglass.optics.arrays import Floats

GRID_S = 300.0


@dataclass(frozen=True)
class TargetNight:
    """A target through one night, above the person's own horizon."""

    target: Target
    rises: tuple[datetime, ...]
    sets: tuple[datetime, ...]
    highest_at: datetime
    """Upper transit of the night, or the highest time of the span."""
    highest_degrees: float
    """Altitude then, without air."""
    highest_azimuth_degrees: float
    up: tuple[Window, ...]
    up_and_dark: tuple[Window, ...]
    """Up, sun below -18 degrees, moon down."""
    best_at: datetime | None
    """When it stands highest inside up_and_dark; None when there is no such time."""
    best_degrees: float | None
    """As seen, air included."""
    best_azimuth_degrees: float | None
    code: TargetCode | None


@dataclass(frozen=True)
class Night:
    """What the sky does at a place from noon to noon; times are UTC, None where none happens."""

    place: Place
    date: date
    span: Window
    sunset: datetime | None
    sunrise: datetime | None
    dusk: dict[str, datetime | None]
    """Ends of the evening twilights by name of TWILIGHTS."""
    dawn: dict[str, datetime | None]
    sun_lowest_at: datetime
    sun_lowest_degrees: float
    sun_highest_degrees: float
    sun_code: SunCode | None
    moonrises: tuple[datetime, ...]
    moonsets: tuple[datetime, ...]
    moon_code: MoonCode | None
    illuminated_share: float
    """0 to 1, at the sun's lowest."""
    phase: MoonPhase
    dark: tuple[Window, ...]
    """Sun below -18 degrees."""
    moonless: tuple[Window, ...]
    """Dark and the moon down."""
    target: TargetNight

    @property
    def dark_hours(self) -> float:
        """Hours with the sun below -18 degrees."""
        return sum(w.hours for w in self.dark)

    @property
    def moonless_hours(self) -> float:
        """Hours dark and with the moon down."""
        return sum(w.hours for w in self.moonless)


@dataclass(frozen=True)
class _Tracks:
    """Everything that a run of nights shares."""

    place: Place
    sky: Ephemeris
    grid_s: Floats
    sun_degrees: Floats
    sun: dict[str, Crossings]
    moon: Crossings
    target: Target
    target_degrees: Floats
    target_above: Crossings


@dataclass(frozen=True)
class _SunRange:
    """Lowest and highest sun of one night's span."""

    start_s: float
    end_s: float
    lowest_s: float
    lowest_degrees: float
    highest_degrees: float


def nights(
    place: Place,
    first: date,
    count: int = 1,
    target: Target = MILKY_WAY_CENTRE,
    horizon: Horizon | None = None,
) -> tuple[Night, ...]:
    """Return `count` nights at a place, beginning with the evening of `first`.

    Raises DateOutsideEphemerisError for dates that DE421 does not hold, ValueError for a count
    outside 1 to 800.
    """
    if not 1 <= count <= 800:
        raise ValueError(f"{count} nights; plan 1 to 800 at a time")
    try:
        noons = [solar_noon(place, first + timedelta(days=k)) for k in range(count + 1)]
    except OverflowError:
        raise DateOutsideEphemerisError(f"{first} is outside the table of sun and moon") from None
    tracks = _tracks(place, noons, target, horizon or Horizon())
    ends = [unix_seconds(noon) for noon in noons]
    suns = [_sun_range(tracks, *pair) for pair in pairwise(ends)]
    middles = np.array([sun.lowest_s for sun in suns])
    shares = illuminated_share(tracks.sky, middles)
    names = phase_names(tracks.sky, middles)
    return tuple(
        _night(tracks, first + timedelta(days=k), sun, float(shares[k]), names[k])
        for k, sun in enumerate(suns)
    )


def solar_noon(place: Place, day: date) -> datetime:
    """Return the mean solar noon nearest to the clock's noon of a date at a place, UTC."""
    clock = datetime.combine(day, time(12), tzinfo=place.zone).astimezone(UTC).timestamp()
    phase = 43200.0 - place.longitude_degrees * 240.0
    turns = round((clock - phase) / 86400.0)
    return moment(turns * 86400.0 + phase)


def _tracks(place: Place, noons: list[datetime], target: Target, horizon: Horizon) -> _Tracks:
    start, end = noons[0] - timedelta(hours=1), noons[-1] + timedelta(hours=1)
    sky = ephemeris(start, end, (target,))
    grid = np.arange(unix_seconds(start), unix_seconds(end) + GRID_S, GRID_S)
    grid[-1] = min(grid[-1], unix_seconds(end))
    sun_at = partial(sun_altitude_degrees, sky, place)
    sun_degrees = sun_at(grid)
    levels = {"sunset": SUNSET_DEGREES, **TWILIGHTS}
    sun = {
        name: crossings(partial(above_level, sun_at, level), grid, sun_degrees - level)
        for name, level in levels.items()
    }
    above = partial(target_above_degrees, sky, place, target.name, horizon)
    return _Tracks(
        place=place,
        sky=sky,
        grid_s=grid,
        sun_degrees=sun_degrees,
        sun=sun,
        moon=crossings(partial(moon_edge_degrees, sky, place), grid),
        target=target,
        target_degrees=look(sky, target.name, place, grid).altitude_degrees,
        target_above=crossings(above, grid),
    )


def _night(tracks: _Tracks, day: date, sun: _SunRange, share: float, phase: MoonPhase) -> Night:
    start_s, end_s, lowest_s = sun.start_s, sun.end_s, sun.lowest_s
    dark = complement(tracks.sun["astronomical"].spans_up(start_s, end_s), start_s, end_s)
    moonless = minus(dark, tracks.moon.spans_up(start_s, end_s))
    evening = {name: _first(c.inside(start_s, lowest_s, False)) for name, c in tracks.sun.items()}
    morning = {name: _last(c.inside(lowest_s, end_s, True)) for name, c in tracks.sun.items()}
    return Night(
        place=tracks.place,
        date=day,
        span=Window(moment(start_s), moment(end_s)),
        sunset=evening["sunset"],
        sunrise=morning["sunset"],
        dusk={name: evening[name] for name in TWILIGHTS},
        dawn={name: morning[name] for name in TWILIGHTS},
        sun_lowest_at=moment(lowest_s),
        sun_lowest_degrees=sun.lowest_degrees,
        sun_highest_degrees=sun.highest_degrees,
        sun_code=sun_code(sun.lowest_degrees, sun.highest_degrees),
        moonrises=_moments(tracks.moon.inside(start_s, end_s, True)),
        moonsets=_moments(tracks.moon.inside(start_s, end_s, False)),
        moon_code=moon_code(dark, moonless, tracks.moon.spans_up(start_s, end_s)),
        illuminated_share=share,
        phase=phase,
        dark=windows(dark),
        moonless=windows(moonless),
        target=_target_night(tracks, start_s, end_s, moonless),
    )


def _sun_range(tracks: _Tracks, start_s: float, end_s: float) -> _SunRange:
    low, high = np.searchsorted(tracks.grid_s, [start_s, end_s])
    part, heights = tracks.grid_s[low:high], tracks.sun_degrees[low:high]
    times, values = turning_points(part, heights)
    times = np.concatenate([times, part[[0, -1]]])
    values = np.concatenate([values, heights[[0, -1]]])
    k = int(np.argmin(values))
    return _SunRange(start_s, end_s, float(times[k]), float(values[k]), float(values.max()))


def _target_night(tracks: _Tracks, start_s: float, end_s: float, moonless: Spans) -> TargetNight:
    low, high = np.searchsorted(tracks.grid_s, [start_s, end_s])
    part, heights = tracks.grid_s[low:high], tracks.target_degrees[low:high]
    times, values = turning_points(part, heights)
    if not values.size or values.max() < heights.max():
        times, values = part, heights
    highest_s = float(times[np.argmax(values)])
    up = tracks.target_above.spans_up(start_s, end_s)
    usable = overlap(up, moonless)
    # Between its ends a window has one maximum at most: at the transit or at an end.
    candidates = [highest_s, *(min(max(highest_s, start), end) for start, end in usable)]
    candidates += [t for window in usable for t in window]
    seen = look(tracks.sky, tracks.target.name, tracks.place, np.array(candidates))
    best = 1 + int(np.argmax(seen.altitude_degrees[1:])) if usable else None
    return TargetNight(
        target=tracks.target,
        rises=_moments(tracks.target_above.inside(start_s, end_s, True)),
        sets=_moments(tracks.target_above.inside(start_s, end_s, False)),
        highest_at=moment(highest_s),
        highest_degrees=float(seen.altitude_degrees[0]),
        highest_azimuth_degrees=float(seen.azimuth_degrees[0]),
        up=windows(up),
        up_and_dark=windows(usable),
        best_at=moment(candidates[best]) if best else None,
        best_degrees=float(seen_altitude_degrees(seen.altitude_degrees[best])) if best else None,
        best_azimuth_degrees=float(seen.azimuth_degrees[best]) if best else None,
        code=target_code(up, usable, moonless, end_s - start_s),
    )


def _moments(times: list[float]) -> tuple[datetime, ...]:
    return tuple(moment(t) for t in times)


def _first(times: list[float]) -> datetime | None:
    return moment(times[0]) if times else None


def _last(times: list[float]) -> datetime | None:
    return moment(times[-1]) if times else None
