"""Where a frame points and what the camera is, from its stars alone."""

from __future__ import annotations

import math
import time
from collections.abc import Iterator
from dataclasses import dataclass, field, replace

import numpy as np
import tetra3rs

from nightglass.optics.arrays import Floats, Indices
from nightglass.optics.projection import PROJECTIONS, Projection, directions
from nightglass.sky.astrometry.attempt import Attempt
from nightglass.sky.astrometry.camera import (
    Camera,
    plain_camera,
    width_degrees,
)
from nightglass.sky.astrometry.codes import Advice, UnsolvedReason
from nightglass.sky.astrometry.patterns import NARROWEST_DEGREES, WIDEST_DEGREES, pattern_database
from nightglass.sky.astrometry.refine import Solution, best_projection, refine
from nightglass.sky.stars.find import FoundStars

MOST_CHANCE_LOG10 = -12.0
"""A solution is accepted if chance would give its agreement in fewer than one of 1e12 trials: the
search tries some 1e6 patterns per frame, so one wrong frame in a million."""
CENTRAL_DEGREES = 100.0
"""A fisheye is identified by its central part, flattened; beyond it the flat picture runs away."""
LEAST_STARS = 8
"""Found stars that a solution takes."""
PATTERN_STARS = 60
SURE_SNR = 6.0
FLAT_RATIOS = (1.0, 0.7, 0.5, 1.4, 0.35, 2.0, 0.27, 2.8, 4.0, 5.2)
"""Focal lengths over the long side: 8 to 85 mm over sensors 23 to 36 mm wide, in steps that the
search's own tolerance of 22 % bridges; the usual ones first."""
USUAL_FLAT = 5
ROUND_RATIOS = (0.42, 0.33, 0.52, 0.26, 0.22, 0.65, 0.8)
"""The same for fisheyes."""
TRY_MS = 10_000
"""Ten times what the largest try takes: the work is bounded by its stars, not by the clock."""
SEARCH_SECONDS = 12.0
"""Processor time of the search's own thread: a busy machine gives the same answer, later."""


@dataclass(frozen=True)
class Unsolved:
    """A frame that could not be solved: why, what was tried, what would help."""

    reason: UnsolvedReason
    stars: int
    """Found stars that could be gone by."""
    advice: Advice
    tried: tuple[Attempt, ...] = ()
    timed_out: bool = False
    """The search ended before all cameras were tried."""
    best_chance_log10: float = 0.0


@dataclass(frozen=True)
class Hint:
    """What is known before: focal lengths [px] that may be, likeliest first; the projection."""

    focals_px: tuple[float, ...] = ()
    projection: Projection | None = None


@dataclass
class _Search:
    """What one search has tried so far."""

    started: float = field(default_factory=time.thread_time)
    tried: list[Attempt] = field(default_factory=list)
    timed_out: bool = False
    best_log10: float = 0.0


def solve(
    stars: FoundStars, width_px: int, height_px: int, hint: Hint | None = None
) -> Solution | Unsolved:
    """Return the aim and the camera of a frame, or why they can't be told.

    stars: as find_stars gives them. hint: tried first, never trusted. The same frame always gives
    the same answer unless the search runs out of time (12 s).
    """
    search = _Search()
    trusted = pattern_stars(stars)
    if trusted.size < LEAST_STARS:
        return Unsolved(UnsolvedReason.TOO_FEW_STARS, int(trusted.size), Advice.MORE_LIGHT)
    for guess, checked in _guesses(width_px, height_px, hint or Hint()):
        if time.thread_time() - search.started > SEARCH_SECONDS:
            search.timed_out = True
            break
        candidate = _identify(stars, trusted, guess, checked)
        search.tried.append(Attempt(guess.projection, width_degrees(guess), checked))
        if candidate is None:
            continue
        refined = refine(stars, trusted, *candidate)
        if refined is None:
            continue
        search.best_log10 = min(search.best_log10, refined.chance_log10)
        if refined.chance_log10 <= MOST_CHANCE_LOG10:
            return replace(best_projection(stars, trusted, refined), tried=tuple(search.tried))
    return Unsolved(
        UnsolvedReason.NO_PATTERN_FITS,
        int(trusted.size),
        Advice.NAME_THE_CAMERA,
        tuple(search.tried),
        search.timed_out,
        search.best_log10,
    )


def pattern_stars(stars: FoundStars) -> Indices:
    """Return indices of the found stars to identify by, brightest first.

    Left out: places at the edge and shapes unlike those of most others, such as lamps, branches
    and pieces of a satellite's trail.
    """
    size = np.sqrt(np.maximum(stars.spread_xx + stars.spread_yy, 0.0))
    good = (stars.snr > SURE_SNR) & (stars.edge == 0)
    # Moments of faint stars are mostly noise: their size says nothing.
    sized = good & (stars.snr > 40) & np.isfinite(size)
    if np.count_nonzero(sized) >= 6:
        typical = float(np.median(size[sized]))
        # A clipped star is larger than the others, and all the same the best to go by.
        limit = np.where(stars.clipped, 4.0, 2.0) * typical + 1.0
        good &= ~sized | (size < limit)
    chosen = np.flatnonzero(good)
    return chosen[np.argsort(-stars.snr[chosen], kind="stable")]


def _guesses(width_px: int, height_px: int, hint: Hint) -> Iterator[tuple[Camera, int]]:
    """Cameras to try, each with the number of stars whose patterns are looked up.

    Few stars first: where the brightest points are stars, that takes milliseconds.
    """
    kinds: tuple[Projection, ...] = (hint.projection,) if hint.projection else PROJECTIONS
    long_px = max(width_px, height_px)
    flat = [r * long_px for r in FLAT_RATIOS] if "rectilinear" in kinds else []
    curved = [k for k in ("equisolid", "equidistant", "stereographic") if k in kinds]
    round_ = [(kind, r * long_px) for kind in curved for r in ROUND_RATIOS]
    hinted = [(kind, focal) for focal in hint.focals_px for kind in kinds[:1]]
    for checked in (13, 18, 24):
        for kind, focal in hinted:
            yield plain_camera(width_px, height_px, focal, kind), checked
    flats: list[tuple[Projection, float]] = [("rectilinear", focal) for focal in flat]
    # More stars cost four times as much: where lamps and an aircraft are among the brightest. A
    # narrow camera is looked up in a tenth of the time of a wide one, so those come first then.
    usual_ones = sorted(flats[:USUAL_FLAT], key=lambda camera: -camera[1])
    searched = ((flats, 13), (usual_ones, 18), (round_, 13), (flats, 18))
    for cameras, checked in (*searched, (flats, 24), (round_, 20)):
        for kind, focal in cameras:
            yield plain_camera(width_px, height_px, focal, kind), checked


def _identify(
    stars: FoundStars, trusted: Indices, guess: Camera, checked: int
) -> tuple[Camera, Floats] | None:
    """Return a first camera and rotation from the patterns, or None; mirrored is no answer."""
    x, y = stars.x_px[trusted], stars.y_px[trusted]
    seen = directions(
        x - guess.centre_x_px, y - guess.centre_y_px, guess.focal_px, guess.projection
    )
    limit = math.cos(math.radians(CENTRAL_DEGREES / 2))
    central = np.flatnonzero(seen[:, 2] > limit)[:PATTERN_STARS]
    if central.size < 6:
        return None
    flat = seen[central, :2] / seen[central, 2:] * guess.focal_px
    side = (
        2
        * guess.focal_px
        * math.tan(math.radians(min(width_degrees(guess), CENTRAL_DEGREES, WIDEST_DEGREES) / 2))
    )
    side = max(side, 2.02 * float(np.abs(flat).max()))
    field_degrees = 2 * math.degrees(math.atan(side / 2 / guess.focal_px))
    if field_degrees < NARROWEST_DEGREES * 0.5:
        return None
    brightness = stars.snr[trusted[central]]
    answer = pattern_database().solve_from_centroids(
        np.column_stack([flat, brightness]),
        fov_estimate_deg=field_degrees,
        fov_max_error_deg=0.22 * field_degrees,
        image_width=math.ceil(side),
        image_height=math.ceil(side),
        solve_timeout_ms=TRY_MS,
        pattern_checking_stars=checked,
        match_threshold=1e-4,
    )
    if not isinstance(answer, tetra3rs.SolveResult) or answer.parity_flip:
        return None
    rotation = np.asarray(answer.rotation_matrix_icrs_to_camera, dtype=np.float64)
    focal_px = math.ceil(side) / 2 / math.tan(math.radians(answer.fov_deg) / 2)
    return replace(guess, focal_px=focal_px), rotation
