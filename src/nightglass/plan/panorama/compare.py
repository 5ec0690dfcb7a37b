"""A panorama held against the single wide frame, and against a stack of wide frames."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from nightglass.almanac.horizon import Horizon
from nightglass.almanac.trail import frame_grid_mm, longest_time_s
from nightglass.plan.camera import Pointing, Shot, seen_from, sky_aim
from nightglass.plan.codes import AgainstCode
from nightglass.plan.depth import (
    DepthChoice,
    depth,
    light_stops,
    snr_of,
    stars_per_degree2,
)
from nightglass.plan.panorama.panorama import SAVING_S, Panorama
from nightglass.plan.tolerance import USUAL, Tolerance


@dataclass(frozen=True)
class AgainstWide:
    """What the panorama gains over one wide frame, and what a stack of those would do."""

    wide: Shot
    wide_exposure_s: float
    light_stops: float
    """Light per patch of sky: aperture area x time."""
    stars_gain_percent: float
    """Stars recorded on the same sky: (panorama / wide - 1) x 100."""
    limiting_mag: float
    wide_limiting_mag: float
    detail_times: float
    """Pixels per degree over the wide frame's, at the frame centre."""
    frames_as_deep: int
    """Stacked wide frames whose mean is as deep as the panorama."""
    frames_in_same_time: int
    total_s: float
    """The panorama's whole time, for both."""
    code: AgainstCode


def longest_for(
    shot: Shot,
    pointings: list[Pointing],
    latitude_degrees: float,
    tolerance: Tolerance = USUAL,
    horizon: Horizon | None = None,
    used_share: float = 1.0,
) -> float:
    """Return the longest true time that keeps trails within the tolerance in every frame [s].

    Where land hides the centre of a frame, all its sky counts. used_share: middle share of the
    frame's sides that counts, for frames whose rims the seams leave out. Raises ValueError when no
    frame shows sky above the horizon.
    """
    land = horizon or Horizon()
    x, y = frame_grid_mm(used_share * shot.width_mm, used_share * shot.height_mm, 13, 9)
    least = math.inf
    for pointing in pointings:
        aim = sky_aim(pointing, latitude_degrees)
        longest = longest_time_s(
            tolerance.limit_percent,
            shot.picture_height_mm,
            shot.focal_mm,
            aim,
            shot.projection,
            x,
            y,
        )
        altitude, azimuth = seen_from(shot, pointing, x, y)
        with np.errstate(invalid="ignore"):
            sky = altitude >= land.height_at(azimuth)
        middle = longest[sky.shape[0] // 2, sky.shape[1] // 2]
        if tolerance.holds_at == "centre" and sky[sky.shape[0] // 2, sky.shape[1] // 2]:
            # A centre at the pole of the sky hardly moves: then all of its sky counts.
            longest = np.full_like(longest, middle) if np.isfinite(middle) else longest
        if np.any(sky & ~np.isnan(longest)):
            least = min(least, float(np.nanmin(longest[sky])))
    if math.isinf(least):
        raise ValueError("no frame shows moving sky above your horizon; aim higher")
    return least


def against_wide(
    panorama: Panorama, wide: Shot, wide_exposure_s: float, choice: DepthChoice | None = None
) -> AgainstWide:
    """Return the gain over the wide frame and the crossover with a stack of wide frames.

    Both sides take the same sky, noise area and transmission (choice). Raises ValueError for a
    wide exposure of 0 or less.
    """
    shot, exposure_s = panorama.shot, panorama.pace.exposure_s
    deep = depth(shot, exposure_s, choice)
    flat = depth(wide, wide_exposure_s, choice)
    stops = light_stops(shot, exposure_s, wide, wide_exposure_s)
    gain = 100 * (stars_per_degree2(deep.limiting_mag) / stars_per_degree2(flat.limiting_mag) - 1)
    ratio = snr_of(shot, exposure_s, deep.limiting_mag, choice) / snr_of(
        wide, wide_exposure_s, deep.limiting_mag, choice
    )
    needed = max(1, math.ceil(ratio**2 - 1e-9))
    each = wide_exposure_s * (2 if panorama.pace.dark_frame else 1) + SAVING_S
    fitting = max(1, int((panorama.total_s + SAVING_S) // each))
    detail = shot.focal_mm / wide.focal_mm
    return AgainstWide(
        wide=wide,
        wide_exposure_s=wide_exposure_s,
        light_stops=stops,
        stars_gain_percent=gain,
        limiting_mag=deep.limiting_mag,
        wide_limiting_mag=flat.limiting_mag,
        detail_times=detail,
        frames_as_deep=needed,
        frames_in_same_time=fitting,
        total_s=panorama.total_s,
        code=AgainstCode.STACK_AS_DEEP if needed <= fitting else AgainstCode.PANORAMA_DEEPER,
    )
