"""A night plan as plain data: what --json prints. Times are ISO 8601, UTC and local."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from nightglass.almanac.horizon import Horizon
from nightglass.almanac.night import Night, TargetNight
from nightglass.almanac.place import Place
from nightglass.almanac.windows import Window
from nightglass.plan.night.night import HourSky, NightPlan
from nightglass.show.plan.caution_words import caution_data


def night_data(plan: NightPlan) -> dict[str, Any]:
    """Return the plan as dictionaries of numbers, codes and None."""
    night = plan.night
    return {
        "date": night.date.isoformat(),
        "place": place_data(night.place),
        "sun": {
            "sunset": moment_data(night.sunset, night.place),
            "sunrise": moment_data(night.sunrise, night.place),
            "dusk": {k: moment_data(v, night.place) for k, v in night.dusk.items()},
            "dawn": {k: moment_data(v, night.place) for k, v in night.dawn.items()},
            "lowest_degrees": round(night.sun_lowest_degrees, 3),
            "code": night.sun_code,
        },
        "moon": _moon(plan),
        "dark": [window_data(w, night.place) for w in night.dark],
        "dark_hours": round(night.dark_hours, 3),
        "dark_and_moonless": [window_data(w, night.place) for w in night.moonless],
        "dark_and_moonless_hours": round(night.moonless_hours, 3),
        "target": _target(night.target, night.place),
        "horizon": horizon_data(plan.horizon),
        "hours": [_hour(h) for h in plan.hours],
        "blue_hour": {
            "evening": _window(plan.land.evening_blue_hour, night),
            "morning": _window(plan.land.morning_blue_hour, night),
            "code": plan.land.code,
        },
        "assumed": {
            "dark_zenith_mag_per_arcsec2": plan.sky_assumed.dark_zenith_mag,
            "extinction_mag": plan.sky_assumed.extinction_mag,
        },
        "cautions": caution_data(),
    }


def place_data(place: Place) -> dict[str, Any]:
    """Return a place as a dictionary."""
    return {
        "name": place.name,
        "latitude_degrees": place.latitude_degrees,
        "longitude_degrees": place.longitude_degrees,
        "elevation_m": place.elevation_m,
        "zone": place.zone_name,
        "zone_from": place.zone_from,
        "cautions": [{"code": c.code, **c.values} for c in place.cautions],
    }


def horizon_data(horizon: Horizon) -> list[dict[str, float]]:
    """Return the land as heights over azimuth."""
    pairs = zip(horizon.azimuths_degrees, horizon.heights_degrees, strict=True)
    return [{"azimuth_degrees": a, "height_degrees": h} for a, h in pairs]


def moment_data(at: datetime | None, place: Place) -> dict[str, str] | None:
    """Return a moment in UTC and in local time with its offset; None stays None."""
    if at is None:
        return None
    return {
        "utc": at.astimezone(UTC).isoformat(timespec="seconds").replace("+00:00", "Z"),
        "local": at.astimezone(place.zone).isoformat(timespec="seconds"),
    }


def window_data(window: Window, place: Place) -> dict[str, Any]:
    """Return a window as start, end and hours."""
    return {
        "start": moment_data(window.start, place),
        "end": moment_data(window.end, place),
        "hours": round(window.hours, 3),
    }


def _window(window: Window | None, night: Night) -> dict[str, Any] | None:
    return None if window is None else window_data(window, night.place)


def _moon(plan: NightPlan) -> dict[str, Any]:
    night = plan.night
    cost, overhead = plan.moon_cost_stops, plan.moon_cost_overhead_stops
    return {
        "rises": [moment_data(t, night.place) for t in night.moonrises],
        "sets": [moment_data(t, night.place) for t in night.moonsets],
        "illuminated_share": round(night.illuminated_share, 4),
        "phase": night.phase,
        "code": night.moon_code,
        "cost_stops_at_most": None if cost is None else round(cost, 2),
        "cost_overhead_stops_at_most": None if overhead is None else round(overhead, 2),
    }


def _target(target: TargetNight, place: Place) -> dict[str, Any]:
    best = target.best_degrees
    azimuth = target.best_azimuth_degrees
    return {
        "name": target.target.name,
        "ra_degrees": target.target.ra_degrees,
        "dec_degrees": target.target.dec_degrees,
        "rises": [moment_data(t, place) for t in target.rises],
        "sets": [moment_data(t, place) for t in target.sets],
        "highest_at": moment_data(target.highest_at, place),
        "highest_degrees": round(target.highest_degrees, 3),
        "highest_azimuth_degrees": round(target.highest_azimuth_degrees, 3),
        "up": [window_data(w, place) for w in target.up],
        "up_dark_and_moonless": [window_data(w, place) for w in target.up_and_dark],
        "best_at": moment_data(target.best_at, place),
        "best_degrees": None if best is None else round(best, 3),
        "best_azimuth_degrees": None if azimuth is None else round(azimuth, 3),
        "code": target.code,
    }


def _hour(hour: HourSky) -> dict[str, Any]:
    sky, overhead = hour.sky, hour.overhead
    return {
        "local": hour.at.isoformat(timespec="minutes"),
        "sun_degrees": round(hour.sun_degrees, 2),
        "moon_degrees": round(hour.moon_degrees, 2),
        "moon_azimuth_degrees": round(hour.moon_azimuth_degrees, 2),
        "target_degrees": round(hour.target_degrees, 2),
        "target_azimuth_degrees": round(hour.target_azimuth_degrees, 2),
        "moon_to_target_degrees": round(hour.moon_to_target_degrees, 2),
        "sky_mag_per_arcsec2": None if sky is None else round(sky.moonlit_mag, 2),
        "moon_cost_stops": None if sky is None else round(sky.cost_stops, 2),
        "overhead_mag_per_arcsec2": None if overhead is None else round(overhead.moonlit_mag, 2),
        "moon_cost_overhead_stops": None if overhead is None else round(overhead.cost_stops, 2),
    }
