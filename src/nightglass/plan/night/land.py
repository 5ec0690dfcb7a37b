"""The land below the stars: blue hour, focus for the foreground, and the light on it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import partial

import numpy as np

from nightglass.almanac.crossings import crossings
from nightglass.almanac.ephemeris import Ephemeris, unix_seconds
from nightglass.almanac.heights import sun_altitude_degrees
from nightglass.almanac.night import GRID_S, Night
from nightglass.almanac.place import Place
from nightglass.almanac.windows import Window, complement, overlap, windows
from nightglass.gear.dial import exact_f_number
from nightglass.light.moonlight import moon_magnitude
from nightglass.optics.arrays import Floats
from nightglass.optics.defocus import hyperfocal_m
from nightglass.plan.codes import BlueHourCode, LandLightSource

BLUE_HOUR_DEGREES = (-4.0, -8.0)
"""Sun's altitude during the blue hour: common practice; customs differ by 2 degrees."""
STAR_CRITERION_PERCENT = 0.0184
"""Blur circle of stars that nobody sees, % of picture height: 4.4 um on a height of 24 mm."""
FULL_MOON_LUX = 0.27
"""On the ground, full moon overhead: common practice, 0.1 to 0.3 lx; 135 times starlight."""
STARLIGHT_LUX = 0.002
"""On the ground, stars and airglow of a moonless night: common practice, 1 to 2 mlx."""


@dataclass(frozen=True)
class LandLight:
    """When to take a frame for the land from the unmoved tripod; UTC windows."""

    evening_blue_hour: Window | None
    morning_blue_hour: Window | None
    code: BlueHourCode | None


@dataclass(frozen=True)
class LandFocus:
    """Focus for near land against focus on the stars."""

    hyperfocal_m: float
    near_limit_m: float
    """Land from here on is sharp by the print custom when focused at the hyperfocal distance."""
    circle_mm: float
    """The custom's circle of confusion: diagonal / 1500 (common practice)."""
    star_blur_percent: float
    """Geometric blur of the stars at that focus, % of picture height."""
    star_hyperfocal_m: float
    """Focused here the stars keep a blur that nobody sees (0.018 % of height)."""


@dataclass(frozen=True)
class LandExposure:
    """Exposure of the land at the star frame's ISO and f-number."""

    illuminance_lux: float
    times_darker_than_full_moon: float
    exposure_s: float
    """For a middle-grey land one stop under the meter, at that f-number and ISO."""
    f_number: float
    """As marked."""
    iso: int
    source: LandLightSource


ISO_TAKEN = 1600
"""For the land's exposure where the body file names no working ISO: common practice."""


def land_light(sky: Ephemeris, night: Night) -> LandLight:
    """Return the blue hours of a night; the ephemeris must cover its span."""
    start, end = unix_seconds(night.span.start), unix_seconds(night.span.end)
    grid: Floats = np.arange(start, end + 1.0, GRID_S)
    high, low = BLUE_HOUR_DEGREES
    sun = sun_altitude_degrees(sky, night.place, grid)
    found = []
    for level in (high, low):
        height = partial(_above, sky, night.place, level)
        found.append(crossings(height, grid, sun - level))
    middle = unix_seconds(night.sun_lowest_at)
    below_high = complement(found[0].spans_up(start, end), start, end)
    above_low = found[1].spans_up(start, end)
    blue = overlap(below_high, above_low)
    evening = [w for w in blue if w[0] < middle]
    morning = [w for w in blue if w[0] >= middle]
    return LandLight(
        evening_blue_hour=windows(evening[:1])[0] if evening else None,
        morning_blue_hour=windows(morning[-1:])[0] if morning else None,
        code=None if blue else BlueHourCode.SUN_DOES_NOT_PASS,
    )


def land_focus(focal_mm: float, f_number: float, width_mm: float, height_mm: float) -> LandFocus:
    """Return hyperfocal focus for the land and what it does to the stars.

    f_number: as marked. Raises ValueError for lengths of 0 or less.
    """
    exact = exact_f_number(f_number)
    picture_height = min(width_mm, height_mm)
    circle = math.hypot(width_mm, height_mm) / 1500
    distance = hyperfocal_m(focal_mm, exact, circle)
    # Focused at H, a star's blur is f^2 / (N (H - f)) = the circle itself.
    blur = 100 * circle / picture_height
    star_circle = STAR_CRITERION_PERCENT / 100 * picture_height
    star_distance = hyperfocal_m(focal_mm, exact, star_circle)
    return LandFocus(
        hyperfocal_m=distance,
        near_limit_m=distance / 2,
        circle_mm=circle,
        star_blur_percent=blur,
        star_hyperfocal_m=star_distance,
    )


def land_exposure(
    f_number: float, iso: int, moon_altitude_degrees: float, phase_angle_degrees: float
) -> LandExposure:
    """Return the time that shows the land one stop under middle grey.

    Illuminance: moon by its magnitude and the sine of its height (air left out), starlight
    added. Incident meters: N^2 / t = E S / C with C = 250 lx s (common practice; ISO 2720:1974
    has it chosen by trials with viewers).
    Raises ValueError for an ISO of 0 or less.
    """
    if iso <= 0:
        raise ValueError(f"ISO {iso}; it must be above 0, as 1600")
    share = 10 ** (-0.4 * float(moon_magnitude(phase_angle_degrees) - moon_magnitude(0.0)))
    height = max(0.0, math.sin(math.radians(moon_altitude_degrees)))
    lux = FULL_MOON_LUX * share * height + STARLIGHT_LUX
    exposure = 0.5 * 250.0 * exact_f_number(f_number) ** 2 / (lux * iso)
    by_moon = lux > 3 * STARLIGHT_LUX
    return LandExposure(
        illuminance_lux=lux,
        times_darker_than_full_moon=FULL_MOON_LUX / lux,
        exposure_s=exposure,
        f_number=f_number,
        iso=iso,
        source=LandLightSource.MOONLIGHT if by_moon else LandLightSource.STARLIGHT,
    )


def _above(sky: Ephemeris, place: Place, level: float, unix_s: Floats) -> Floats:
    return sun_altitude_degrees(sky, place, unix_s) - level
