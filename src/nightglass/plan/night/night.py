"""One night in full: the almanac's events, then hour by hour moon, target and sky brightness."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

import numpy as np

from nightglass.almanac.ephemeris import (
    MILKY_WAY_CENTRE,
    Ephemeris,
    Target,
    ephemeris,
    unix_seconds,
)
from nightglass.almanac.horizon import Horizon, seen_altitude_degrees
from nightglass.almanac.horizontal import Look, look, separation_degrees, topocentric_vectors
from nightglass.almanac.moonlight import MoonlitSky, sky_with_moon
from nightglass.almanac.night import Night, nights
from nightglass.almanac.phases import phase_angle_degrees
from nightglass.almanac.place import Place
from nightglass.almanac.unusual import DARK_DEGREES, SUNSET_DEGREES
from nightglass.light.defaults import EXTINCTION, SKY_BRIGHTNESS
from nightglass.optics.arrays import Floats
from nightglass.plan.depth import check_sky_mag
from nightglass.plan.night.land import LandLight, land_light


@dataclass(frozen=True)
class HourSky:
    """The sky at one clock hour of the place; altitudes as seen, air included."""

    at: datetime
    """Local time of the place, aware."""
    sun_degrees: float
    moon_degrees: float
    moon_azimuth_degrees: float
    target_degrees: float
    target_azimuth_degrees: float
    moon_to_target_degrees: float
    target_above_horizon: bool
    sky: MoonlitSky | None
    """Brightness of the sky at the target; None in twilight and when the target is down."""
    overhead: MoonlitSky | None
    """Brightness of the sky at the zenith; None in twilight."""


@dataclass(frozen=True)
class SkyAssumed:
    """What was taken for the sky without moon."""

    dark_zenith_mag: float = SKY_BRIGHTNESS.value
    extinction_mag: float = EXTINCTION.value

    def __post_init__(self) -> None:
        check_sky_mag(self.dark_zenith_mag)


@dataclass(frozen=True)
class NightPlan:
    """A night with everything that a person wants to know before leaving home."""

    night: Night
    horizon: Horizon
    hours: tuple[HourSky, ...]
    land: LandLight
    sky_assumed: SkyAssumed
    moon_cost_stops: float | None
    """Most that the moon costs at the target in a dark hour; None when it is never up then."""
    moon_cost_overhead_stops: float | None
    """The same at the zenith, whether or not the target is up."""


def plan_night(
    place: Place,
    day: date,
    target: Target = MILKY_WAY_CENTRE,
    horizon: Horizon | None = None,
    sky_assumed: SkyAssumed | None = None,
) -> NightPlan:
    """Return the plan of the night that begins on the evening of a date.

    Raises as nightglass.almanac.night.nights does.
    """
    land = horizon or Horizon()
    (night,) = nights(place, day, 1, target, land)
    return plan_of(night, land, sky_assumed or SkyAssumed())


def plan_of(night: Night, horizon: Horizon, sky_assumed: SkyAssumed) -> NightPlan:
    """Return the plan of a night of the almanac: adds the hours and the land."""
    target = night.target.target
    sky = ephemeris(night.span.start, night.span.end + timedelta(hours=1), (target,))
    hours = _hours(sky, night, horizon, sky_assumed)
    moonlit = [h for h in hours if h.moon_degrees > 0]
    costs = [h.sky.cost_stops for h in moonlit if h.sky is not None]
    overhead = [h.overhead.cost_stops for h in moonlit if h.overhead is not None]
    return NightPlan(
        night=night,
        horizon=horizon,
        hours=hours,
        land=land_light(sky, night),
        sky_assumed=sky_assumed,
        moon_cost_stops=max(costs, default=None),
        moon_cost_overhead_stops=max(overhead, default=None),
    )


def clock_hours(night: Night) -> list[datetime]:
    """Return the whole hours of the place's clock from sunset to sunrise.

    The whole span where the sun stays down; none where it stays up.
    """
    if night.sun_lowest_degrees > SUNSET_DEGREES:
        return []
    start = night.sunset or night.span.start
    end = night.sunrise or night.span.end
    # Stepping in UTC: at a clock change an hour comes twice or not at all, as it should.
    local = start.astimezone(night.place.zone)
    past = timedelta(minutes=local.minute, seconds=local.second, microseconds=local.microsecond)
    first = start - past
    times = [first + timedelta(hours=k) for k in range(1, 27)]
    return [t.astimezone(night.place.zone) for t in times if t.astimezone(UTC) <= end]


def _hours(
    sky: Ephemeris, night: Night, horizon: Horizon, assumed: SkyAssumed
) -> tuple[HourSky, ...]:
    moments = clock_hours(night)
    if not moments:
        return ()
    times: Floats = np.array([unix_seconds(t) for t in moments])
    place, name = night.place, night.target.target.name
    sun = look(sky, "sun", place, times)
    moon = look(sky, "moon", place, times)
    target = look(sky, name, place, times)
    apart = separation_degrees(
        topocentric_vectors(sky, "moon", place, times),
        topocentric_vectors(sky, name, place, times),
    )
    phase = phase_angle_degrees(sky, times)
    return tuple(
        _hour(
            moments[k],
            _Seen(_at(sun, k), _at(moon, k), _at(target, k), float(apart[k]), float(phase[k])),
            horizon,
            assumed,
        )
        for k in range(len(moments))
    )


def _at(seen: Look, k: int) -> tuple[float, float]:
    altitude = float(seen_altitude_degrees(seen.altitude_degrees[k]))
    return altitude, float(seen.azimuth_degrees[k])


@dataclass(frozen=True)
class _Seen:
    """(altitude, azimuth) of sun, moon and target; moon to target; phase angle [degrees]."""

    sun: tuple[float, float]
    moon: tuple[float, float]
    target: tuple[float, float]
    moon_to_target: float
    phase: float


def _hour(at: datetime, seen: _Seen, horizon: Horizon, assumed: SkyAssumed) -> HourSky:
    sun, moon, target = seen.sun, seen.moon, seen.target
    above = target[0] > float(horizon.height_at(target[1]))
    brightness = overhead = None
    taken = (seen.phase, assumed.dark_zenith_mag, assumed.extinction_mag)
    if sun[0] < DARK_DEGREES:
        overhead = sky_with_moon(90.0, moon[0], 90.0 - moon[0], *taken)
        if above and target[0] >= 0:
            brightness = sky_with_moon(target[0], moon[0], seen.moon_to_target, *taken)
    return HourSky(
        at=at,
        sun_degrees=sun[0],
        moon_degrees=moon[0],
        moon_azimuth_degrees=moon[1],
        target_degrees=target[0],
        target_azimuth_degrees=target[1],
        moon_to_target_degrees=seen.moon_to_target,
        target_above_horizon=above,
        sky=brightness,
        overhead=overhead,
    )
