"""Tonight's settings: the true trail at every place of the frame, and the longest times."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from nightglass.almanac.ephemeris import MILKY_WAY_CENTRE, ephemeris, unix_seconds
from nightglass.almanac.horizon import Horizon, seen_altitude_degrees
from nightglass.almanac.horizontal import look
from nightglass.almanac.phases import phase_angle_degrees
from nightglass.almanac.place import Place
from nightglass.almanac.trail import (
    Aim,
    frame_grid_mm,
    longest_time_s,
    star_declination_degrees,
    trail_mm,
    trail_percent,
)
from nightglass.almanac.unusual import DARK_DEGREES, SUNSET_DEGREES
from nightglass.light.iso import WorkingIso, working_iso
from nightglass.light.rules import RuleTime, Situation, rule_times
from nightglass.optics.arrays import Floats
from nightglass.plan.aim import AimWish, check_above_horizon, pointing_of
from nightglass.plan.camera import Pointing, Shot, frame_place, seen_from, sky_aim
from nightglass.plan.codes import FramePlace, LightCode
from nightglass.plan.depth import depth
from nightglass.plan.framesky import FrameSky, frame_sky
from nightglass.plan.tolerance import USUAL, Tolerance
from nightglass.verdict.records import FrameTimes
from nightglass.verdict.times import times_within

COLUMNS, ROWS = 37, 25
"""Places over the frame; the fastest star of a frame stands on its rim or at the land's edge."""


@dataclass(frozen=True)
class TrailMap:
    """Trails over the frame, arrays (rows, columns); nan below the land and outside the image."""

    x_mm: Floats
    y_mm: Floats
    longest_s: Floats
    """True time at which the trail reaches the tolerance; inf about the poles of the sky."""
    trail_percent: Floats
    """At exposure_s, % of picture height."""
    trail_angle_degrees: Floats
    """From +x toward +y, 0 to 180."""


@dataclass(frozen=True)
class PlaceTime:
    """The longest time at one place of the frame."""

    place: FramePlace
    x_mm: float
    y_mm: float
    declination_degrees: float
    longest_s: float
    trail_percent: float
    """At exposure_s."""


@dataclass(frozen=True)
class RuleHere:
    """A common rule held against this frame."""

    rule: RuleTime
    worst_trail_percent: float
    """What its time draws at the place with the shortest time."""


@dataclass(frozen=True)
class Tonight:
    """Settings for one frame at one moment."""

    shot: Shot
    place: Place
    at: datetime
    pointing: Pointing
    aim: Aim
    horizon: Horizon
    limit_percent: float
    exposure_s: float
    """The longest time with remote: what the map is drawn for."""
    times: FrameTimes
    """Centre: of the frame's centre under its own aim; corners: of `shortest`."""
    shortest: PlaceTime
    centre: PlaceTime
    target: PlaceTime | None
    map: TrailMap
    rules: tuple[RuleHere, ...]
    sky: FrameSky
    sun_degrees: float
    moon_degrees: float
    moon_phase_angle_degrees: float
    """0 at full moon."""
    iso: WorkingIso
    """For exposure_s under a dark sky."""
    light: LightCode


def plan_tonight(
    shot: Shot,
    place: Place,
    at: datetime,
    wish: AimWish,
    horizon: Horizon | None = None,
    tolerance: Tolerance = USUAL,
    roll_degrees: float = 0.0,
) -> Tonight:
    """Return the settings of a frame at a moment (aware).

    The tolerance holds where it says; the time of the other place stands beside it. Raises
    ValueError for naive moments, aims or targets below the horizon and frames that show no sky.
    """
    land, limit_percent = horizon or Horizon(), tolerance.limit_percent
    star = wish.target or MILKY_WAY_CENTRE
    sky = ephemeris(at, at + timedelta(minutes=1), (star,))
    seen = {name: look(sky, name, place, unix_seconds(at)) for name in ("sun", "moon", star.name)}
    height = {n: float(seen_altitude_degrees(s.altitude_degrees[0])) for n, s in seen.items()}
    azimuth = float(seen[star.name].azimuth_degrees[0])
    pointing = pointing_of(wish, shot, (height[star.name], azimuth), roll_degrees)
    check_above_horizon(pointing.altitude_degrees, "the aim")
    aim = sky_aim(pointing, place.latitude_degrees)
    x, y, longest = _longest(shot, pointing, aim, land, limit_percent)
    worst = np.unravel_index(int(np.nanargmin(longest)), longest.shape)
    picture = frame_sky(shot, pointing, place, at, land)
    times = _times(shot, aim, float(longest[worst]), tolerance)
    remote = times.chosen.remote_s
    at_place = _Places(shot, aim, limit_percent, remote)
    return Tonight(
        shot=shot,
        place=place,
        at=at,
        pointing=pointing,
        aim=aim,
        horizon=land,
        limit_percent=limit_percent,
        exposure_s=remote,
        times=times,
        shortest=at_place.time(float(x[worst]), float(y[worst])),
        centre=at_place.time(0.0, 0.0),
        target=None if picture.centre is None else at_place.time(*picture.centre),
        map=_trail_map(shot, aim, x, y, longest, remote),
        rules=_rules(shot, at_place, (float(x[worst]), float(y[worst])), limit_percent),
        sky=picture,
        sun_degrees=height["sun"],
        moon_degrees=height["moon"],
        moon_phase_angle_degrees=float(phase_angle_degrees(sky, np.array([unix_seconds(at)]))[0]),
        iso=working_iso(shot.body, depth(shot, remote).sky_e),
        light=_light(height["sun"]),
    )


def _times(shot: Shot, aim: Aim, governing_s: float, tolerance: Tolerance) -> FrameTimes:
    lens = (shot.focal_mm, aim, shot.projection)
    centre_s = float(longest_time_s(tolerance.limit_percent, shot.picture_height_mm, *lens))
    # Near the pole of the sky the centre hardly moves: what shows sky then limits it too.
    centre_s = centre_s if math.isfinite(centre_s) else governing_s
    centre, corners = (times_within(s, shot.body.dial_end_s) for s in (centre_s, governing_s))
    return FrameTimes(centre, corners, tolerance.holds_at)


@dataclass(frozen=True)
class _Places:
    """Trail questions about one frame."""

    shot: Shot
    aim: Aim
    limit_percent: float
    exposure_s: float

    def time(self, x_mm: float, y_mm: float) -> PlaceTime:
        shot = self.shot
        lens = (shot.focal_mm, self.aim, shot.projection)
        longest = longest_time_s(
            self.limit_percent, shot.picture_height_mm, *lens, x_mm=x_mm, y_mm=y_mm
        )
        return PlaceTime(
            place=frame_place(shot, x_mm, y_mm),
            x_mm=x_mm,
            y_mm=y_mm,
            declination_degrees=float(star_declination_degrees(x_mm, y_mm, *lens)),
            longest_s=float(longest),
            trail_percent=self.trail_percent(self.exposure_s, x_mm, y_mm),
        )

    def trail_percent(self, exposure_s: float, x_mm: float, y_mm: float) -> float:
        shot = self.shot
        percent = trail_percent(
            shot.picture_height_mm, exposure_s, shot.focal_mm, self.aim, shot.projection, x_mm, y_mm
        )
        return float(percent)


def _longest(
    shot: Shot, pointing: Pointing, aim: Aim, land: Horizon, limit_percent: float
) -> tuple[Floats, Floats, Floats]:
    x, y = frame_grid_mm(shot.width_mm, shot.height_mm, COLUMNS, ROWS)
    longest = longest_time_s(
        limit_percent, shot.picture_height_mm, shot.focal_mm, aim, shot.projection, x, y
    )
    altitude, azimuth = seen_from(shot, pointing, x, y)
    with np.errstate(invalid="ignore"):
        sky = altitude >= land.height_at(azimuth)
    longest = np.where(sky, longest, np.nan)
    if not np.any(np.isfinite(longest)):
        raise ValueError(
            "the frame shows no sky above your horizon; aim higher, or lower the horizon table"
        )
    return x, y, longest


def _trail_map(
    shot: Shot, aim: Aim, x: Floats, y: Floats, longest: Floats, exposure_s: float
) -> TrailMap:
    trail = trail_mm(x, y, exposure_s, shot.focal_mm, aim, shot.projection)
    hidden = np.isnan(longest)
    percent = np.where(hidden, np.nan, 100 * trail.length_mm / shot.picture_height_mm)
    return TrailMap(x, y, longest, percent, np.where(hidden, np.nan, trail.angle_degrees))


def _rules(
    shot: Shot, at_place: _Places, worst: tuple[float, float], limit_percent: float
) -> tuple[RuleHere, ...]:
    declination = max(-89.0, min(89.0, at_place.aim.declination_degrees))
    situation = Situation(
        shot.body,
        shot.focal_mm,
        shot.f_number,
        declination_degrees=declination,
        limit_percent=limit_percent,
    )
    return tuple(
        RuleHere(rule, at_place.trail_percent(rule.limit_s, *worst))
        for rule in rule_times(situation)
    )


def _light(sun_degrees: float) -> LightCode:
    if sun_degrees > SUNSET_DEGREES:
        return LightCode.SUN_UP
    return LightCode.TWILIGHT if sun_degrees > DARK_DEGREES else LightCode.DARK
