"""The camera without the air, where place and time of a frame are known.

The stars' apparent places take the catalogue's place, and the camera is fitted anew. The air's
strength and the clock are free within their doubt: so pressure and temperature that nobody noted
and a clock some minutes off are in the errors. What the stars then say against the air, or of the
clock, decides whether it is taken out at all: a wrong clock spoils nothing.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np

from nightglass.almanac.horizontal import earth_velocity, zenith_vector
from nightglass.almanac.place import Place
from nightglass.optics.arrays import Flags, Floats, Indices
from nightglass.sky.astrometry.camera import Camera, pole_of_date, without_air
from nightglass.sky.astrometry.codes import AirReason
from nightglass.sky.astrometry.matching import AirDoubt, Fit, Match, fit_camera, pair_up
from nightglass.sky.astrometry.refine import Solution, catalogue_vectors, stars_in_frame, steady
from nightglass.sky.astrometry.refraction import Apparent, air_density, altitude_degrees
from nightglass.sky.stars.find import FoundStars

CLOCK_ERR_MINUTES = 5.0
"""1-sigma of a camera's clock that was set by hand: common practice, no published source."""
STRENGTH_ERR = 0.08
"""1-sigma of the air's density at a known height over the standard: 20 degrees of temperature are
7 %, weather's 15 hPa 1.5 %; the rest for a height that nobody gave."""
MOST_DEVIATIONS = 2.5
"""Beyond so many the clock or the air that the stars ask for is none: something else is wrong."""
COST_AGAINST = 9.0
"""Robust sum of squares by which the stars may disagree with the air: 3 deviations."""
CLOCK_FOUND = 25.0
"""By as much they must fit better at another time for that to be told: 5 deviations."""
HOURS_TRIED = (1, -1, 2, -2, 3, -3)
"""Whole hours: clocks are most often off by a time zone or summer time."""
LOWEST_SEEN_DEGREES = 3.0
"""Lower stars are left out: there the layers near the ground decide, not the mean air."""
ROUNDS_PX = (6.0, 3.0, 2.0)
MOST_FOUND, MOST_CATALOGUE = 800, 4800
RAD_PER_MINUTE = 2 * math.pi / 1436.0682
"""The sky turns once in a sidereal day of 1436.0682 minutes."""


@dataclass(frozen=True)
class AirTaken:
    """Whether the air was taken out of the camera of a frame."""

    taken_out: bool
    reason: AirReason | None = None
    """Why not."""
    strength: float | None = None
    """Of standard air, as the stars and what is known before say together."""
    strength_err: float | None = None
    clock_minutes: float | None = None
    """Change of the clock that they ask for, later positive."""
    clock_minutes_err: float | None = None
    fitting_clock_minutes: float | None = None
    """Change of the clock, hours off, with which the stars would fit; later positive."""
    fitting_clock_minutes_err: float | None = None
    stars: int | None = None
    """Matched stars of the frame, and how many of them place and clock put below the horizon."""
    stars_below: int | None = None


def apparent_at(place: Place, at: datetime) -> Apparent:
    """Return what stands between catalogue and camera at a place and an aware moment."""
    x, y, z = (float(v) for v in zenith_vector(place, at))
    u, v, w = (float(v) for v in earth_velocity(at))
    return Apparent((x, y, z), air_density(place.elevation_m), (u, v, w))


def take_air_out(
    stars: FoundStars, trusted: Indices, solution: Solution, apparent: Apparent, year: float
) -> tuple[Solution, AirTaken]:
    """Return the solution with the air taken out of its camera, or as it was with the reason.

    trusted: indices of the found stars to go by, brightest first (solve.pattern_stars).
    """
    doubt = AirDoubt(
        apparent,
        pole_of_date(year),
        CLOCK_ERR_MINUTES * RAD_PER_MINUTE,
        STRENGTH_ERR * apparent.strength,
    )
    up = altitude_degrees(catalogue_vectors()[0][solution.match.catalogue], apparent) > 0
    if np.count_nonzero(up) < max(4, 0.5 * up.size):
        below = int(np.count_nonzero(~up))
        reason = AirReason.STARS_BELOW_HORIZON
        return solution, AirTaken(False, reason, stars=int(up.size), stars_below=below)
    found = fit_through_air(stars, trusted, solution, doubt)
    if found is None:
        return solution, AirTaken(False, AirReason.FEW_STARS_UP)
    fit, match = found
    if not _agrees(stars, fit, match, doubt):
        clock = _clock_that_fits(_fitter(stars, fit, match), doubt)
        reason = AirReason.STARS_DISAGREE if clock is None else AirReason.ANOTHER_CLOCK_FITS
        minutes, err = clock if clock is not None else (None, None)
        left = replace(_air_of_fit(fit, False), reason=reason)
        left = replace(left, fitting_clock_minutes=minutes, fitting_clock_minutes_err=err)
        return solution, left
    taken = replace(
        solution,
        camera=fit.camera,
        rotation=fit.rotation,
        fit=fit,
        match=match,
        rms_px=fit.rms_px,
    )
    return taken, _air_of_fit(fit, True)


def fit_through_air(
    stars: FoundStars, trusted: Indices, solution: Solution, doubt: AirDoubt
) -> tuple[Fit, Match] | None:
    """Return the camera and aim fitted to the stars as seen, and which stars agree with it.

    None where fewer than four stars stand clear of the horizon.
    """
    vectors, _ = catalogue_vectors()
    xy, err = _places(stars)
    pairs, high = solution.match, _high(solution.match.catalogue, doubt.apparent)
    pairs = Match(pairs.found[high], pairs.catalogue[high], pairs.miss_px[high])
    fit: Fit | None = None
    camera, rotation = solution.camera, solution.rotation
    index = stars_in_frame(camera, rotation)[0][:MOST_CATALOGUE]
    found = trusted[:MOST_FOUND]
    for tolerance_px in (0.0, *ROUNDS_PX):
        if fit is not None:
            # Outward from what the last camera explains: the stars near the horizon come last.
            tolerance_px = max(tolerance_px, 4 * fit.rms_px)
            near = index[_high(index, _air_of(fit.camera))]
            match = pair_up(camera, rotation, vectors[near], xy[found], tolerance_px)
            pairs = Match(found[match.found], near[match.catalogue], match.miss_px)
        if len(pairs.found) < 4:
            return None
        use = steady(stars.snr[pairs.found])
        at, star = pairs.found[use], pairs.catalogue[use]
        fit = fit_camera(camera, rotation, vectors[star], xy[at], err[at], doubt)
        camera, rotation = fit.camera, fit.rotation
    return None if fit is None else (fit, pairs)


def _agrees(stars: FoundStars, fit: Fit, match: Match, doubt: AirDoubt) -> bool:
    """Whether the stars say nothing against this air."""
    (turn, strength), usual = fit.air, doubt.apparent.strength
    off = math.hypot(turn / doubt.turn_err_rad, (strength - usual) / doubt.strength_err)
    without = _fitter(stars, fit, match)(None)
    return off <= MOST_DEVIATIONS and fit.cost <= without.cost + COST_AGAINST


def _clock_that_fits(
    fit_pairs: Callable[[AirDoubt | None], Fit], doubt: AirDoubt
) -> tuple[float, float] | None:
    """A change of the clock [minutes] and its error with which the air fits; None without any."""
    least, found = fit_pairs(None).cost - CLOCK_FOUND, None
    for hours in HOURS_TRIED:
        turn = 60 * hours * RAD_PER_MINUTE
        fit = fit_pairs(doubt.turned(turn))
        off = abs(fit.air[1] - doubt.apparent.strength) / doubt.strength_err
        if fit.cost < least and off < MOST_DEVIATIONS:
            minutes = 60 * hours + float(fit.air[0]) / RAD_PER_MINUTE
            least, found = fit.cost, (minutes, float(fit.air_errors[0]) / RAD_PER_MINUTE)
    return found


def _fitter(stars: FoundStars, fit: Fit, match: Match) -> Callable[[AirDoubt | None], Fit]:
    """Fits of the same stars through another air, or through none."""
    vectors, _ = catalogue_vectors()
    xy, err = _places(stars)
    use = steady(stars.snr[match.found])
    at, star = match.found[use], match.catalogue[use]
    plain = without_air(fit.camera)
    return lambda doubt: fit_camera(plain, fit.rotation, vectors[star], xy[at], err[at], doubt)


def _air_of_fit(fit: Fit, taken_out: bool) -> AirTaken:
    (turn, strength), (turn_err, strength_err) = fit.air, fit.air_errors
    return AirTaken(
        taken_out,
        None,
        float(strength),
        float(strength_err),
        float(turn) / RAD_PER_MINUTE,
        float(turn_err) / RAD_PER_MINUTE,
    )


def _air_of(camera: Camera) -> Apparent:
    if camera.apparent is None:
        raise ValueError("this camera was fitted without air")
    return camera.apparent


def _high(catalogue: Indices, apparent: Apparent) -> Flags:
    altitude = altitude_degrees(catalogue_vectors()[0][catalogue], apparent)
    return np.asarray(altitude > LOWEST_SEEN_DEGREES)


def _places(stars: FoundStars) -> tuple[Floats, Floats]:
    xy = np.column_stack([stars.x_px, stars.y_px])
    return xy, np.hypot(stars.x_px_err, stars.y_px_err) / math.sqrt(2)
