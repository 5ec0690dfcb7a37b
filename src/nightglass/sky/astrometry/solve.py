"""Where a frame points and what the camera is, from its stars alone."""

from __future__ import annotations

import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from nightglass.optics.arrays import Indices
from nightglass.optics.projection import PROJECTIONS, Projection
from nightglass.sky.astrometry.attempt import Attempt
from nightglass.sky.astrometry.camera import (
    Camera,
    plain_camera,
    width_degrees,
)
from nightglass.sky.astrometry.codes import Advice, UnsolvedReason
from nightglass.sky.astrometry.identify import WINDOW_DEGREES, Window, identify
from nightglass.sky.astrometry.refine import Solution, best_projection, refine
from nightglass.sky.stars.find import FoundStars

MOST_CHANCE_LOG10 = -12.0
"""A solution is accepted if chance would give its agreement in fewer than one of 1e12 trials: the
search tries some 1e6 patterns per frame, so one wrong frame in a million."""
LEAST_STARS = 8
"""Found stars that a solution takes."""
SURE_SNR = 6.0
FLAT_RATIOS = (1.0, 0.7, 0.5, 1.4, 0.35, 2.0, 0.27, 2.8, 4.0, 5.2)
"""Focal lengths over the long side: 8 to 85 mm over sensors 23 to 36 mm wide, in steps that the
search's own tolerance of 22 % bridges; the usual ones first."""
USUAL_FLAT = 5
ROUND_RATIOS = (0.42, 0.33, 0.52, 0.26, 0.22, 0.65, 0.8)
"""The same for fisheyes."""
WINDOW_RATIOS = (0.36, 0.25, 0.52, 0.17, 0.75)
"""The same for windows beside the middle, which all three kinds of fisheye show nearly alike."""
WIDE_FLAT_RATIOS = (0.5, 0.35)
WINDOW_PLACES = ((0.0, 0.0), (0.0, -0.5), (-0.5, 0.0), (0.5, 0.0), (0.0, 0.5))
"""Middles of windows from the frame's, over half of its sides; the sky is mostly at the top."""
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
    for guess, checked, window in _guesses(width_px, height_px, hint or Hint()):
        if time.thread_time() - search.started > SEARCH_SECONDS:
            search.timed_out = True
            break
        search.tried.append(Attempt(guess.projection, width_degrees(guess), checked))
        for candidate in identify(stars, trusted, guess, checked, window):
            refined = refine(stars, trusted, candidate)
            if refined is None:
                continue
            search.best_log10 = min(search.best_log10, refined.chance_log10)
            if refined.chance_log10 <= MOST_CHANCE_LOG10:
                best = best_projection(stars, trusted, refined)
                return replace(best, tried=tuple(search.tried))
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


def _guesses(
    width_px: int, height_px: int, hint: Hint
) -> Iterator[tuple[Camera, int, Window | None]]:
    """Cameras to try, each with the number of stars whose patterns are looked up, and where.

    Few stars first: where the brightest points are stars, that takes milliseconds.
    """
    kinds: tuple[Projection, ...] = (hint.projection,) if hint.projection else PROJECTIONS
    long_px = max(width_px, height_px)
    flat = [r * long_px for r in FLAT_RATIOS] if "rectilinear" in kinds else []
    curved: tuple[Projection, ...] = ("equisolid", "equidistant", "stereographic")
    curved = tuple(kind for kind in curved if kind in kinds)
    round_: list[tuple[Projection, float]] = [
        (kind, r * long_px) for kind in curved for r in ROUND_RATIOS
    ]
    hinted = [(kind, focal) for focal in hint.focals_px for kind in kinds[:1]]
    for checked in (13, 18, 24):
        for kind, focal in hinted:
            yield plain_camera(width_px, height_px, focal, kind), checked, None
    flats: list[tuple[Projection, float]] = [("rectilinear", focal) for focal in flat]
    # More stars cost four times as much: where lamps and an aircraft are among the brightest. A
    # narrow camera is looked up in a tenth of the time of a wide one, so those come first then.
    usual_ones = sorted(flats[:USUAL_FLAT], key=lambda camera: -camera[1])
    searched: list[tuple[list[tuple[Projection, float]], int]]
    searched = [(flats, 13), (usual_ones, 18), (round_, 13), (flats, 18), (flats, 24), (round_, 20)]
    for number, (cameras, checked) in enumerate(searched):
        for kind, focal in cameras:
            yield plain_camera(width_px, height_px, focal, kind), checked, None
        # A fisheye shows in the middle at once; the windows beside it cost four times as much.
        if number < 2:
            places = WINDOW_PLACES[:1] if number == 0 else WINDOW_PLACES[1:]
            yield from _windows(width_px, height_px, kinds, places)


def _windows(
    width_px: int,
    height_px: int,
    kinds: tuple[Projection, ...],
    places: Sequence[tuple[float, float]],
) -> Iterator[tuple[Camera, int, Window]]:
    """Wide cameras with windows of their frames."""
    long_px = max(width_px, height_px)
    curved = [k for k in kinds if k != "rectilinear"]
    wide: list[tuple[Projection, float]] = [(k, r) for k in curved[:1] for r in WINDOW_RATIOS]
    wide += [("rectilinear", r) for r in WIDE_FLAT_RATIOS if "rectilinear" in kinds]
    for across, down in places:
        for kind, ratio in wide:
            camera = plain_camera(width_px, height_px, ratio * long_px, kind)
            x = camera.centre_x_px + across * width_px / 2
            y = camera.centre_y_px + down * height_px / 2
            yield camera, 13, Window(x, y, WINDOW_DEGREES)
