"""Rows and columns of frames on the sphere that cover an area, and what they cost in time.

A level camera aimed at height a spans more azimuth the higher it looks: 2 atan(w / 2 f cos a)
along its middle line. Each plan is checked direction by direction: every one must lie in the
usable part of a frame, corners between rows included.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from nightglass.light.defaults import EARTH_ROTATION_RAD_S
from nightglass.optics.projection import off_axis_degrees
from nightglass.plan.area import Area, vectors
from nightglass.plan.camera import Pointing, Shot, inside_frame, seen_from

Values = NDArray[np.float64]

LARGEST_OVERLAP = 0.9
LEAST_OVERLAP = 0.1
DEFAULT_OVERLAP = 0.35
"""Common practice for stitching in the dark: 30 to 40 %."""
SAVING_S = 2.0
MOVING_S = 6.0
"""To turn the head and let it settle: common practice, 5 to 10 s."""
MEGABYTES_PER_MEGAPIXEL = 1.3
"""Raw, 14 bits, lossless: common practice, 1.1 to 1.5."""
MOST_IN_ROW = 60
MORE_ROWS, MORE_FRAMES = 2, 3
"""How far plans are tried beyond what the overlap asks for."""
BEYOND_SHARES = (0.0, 0.05, 0.1, 0.15, 0.2, 0.3)
"""How far the top row may reach beyond the area, over the frame's height of view."""


@dataclass(frozen=True)
class PanoramaFrame:
    """One frame of the plan, in the order of shooting."""

    number: int
    row: int
    """1 is the lowest."""
    column: int
    pointing: Pointing
    start_s: float
    """Since the first frame began."""


@dataclass(frozen=True)
class Row:
    """One row."""

    altitude_degrees: float
    frames: int
    step_degrees: float
    """Of azimuth, from frame to frame."""
    azimuth_spanned_degrees: float
    """By one frame along its middle line."""


_PlannedRow = tuple[Row, list[Pointing]]


@dataclass(frozen=True)
class Pace:
    """How long each frame takes."""

    exposure_s: float
    """True time."""
    saving_s: float = SAVING_S
    moving_s: float = MOVING_S
    dark_frame: bool = False
    """In-camera dark frame on: each exposure takes twice its time."""

    @property
    def frame_s(self) -> float:
        """From the start of one frame to the start of the next."""
        return self.exposure_s * (2 if self.dark_frame else 1) + self.saving_s + self.moving_s


@dataclass(frozen=True)
class Panorama:
    """The plan."""

    shot: Shot
    area: Area
    overlap: float
    usable_share: float
    """Middle share of the frame's sides that the seams use."""
    rows: tuple[Row, ...]
    frames: tuple[PanoramaFrame, ...]
    pace: Pace
    total_s: float
    row_drift_degrees: float
    """Most that the sky turns between the first frame of a row and the last of the next."""
    megabytes: float
    words: tuple[str, ...]


def used_share(plan: Panorama) -> float:
    """Return the middle share of the frame's sides that ends up in the picture between seams."""
    return plan.usable_share if plan.usable_share < 1 else 1 - plan.overlap


def plan_panorama(
    shot: Shot,
    area: Area,
    pace: Pace,
    overlap: float | None = None,
    usable_share: float | None = None,
) -> Panorama:
    """Return rows and columns that cover an area.

    overlap: share of the frame's angle, 0.1 to 0.9. usable_share: the middle share of the
    frame's sides that is good enough on the bench; the seams then use only that. Without both an
    overlap of 35 %. Raises ValueError for overlaps outside, and for areas that can't be closed.
    """
    wanted = _overlap(overlap, usable_share)
    usable = usable_share if usable_share is not None else 1.0
    plan = _closed_plan(shot, area, wanted, usable)
    frames = _in_order(plan, pace)
    rows = tuple(row for row, _ in plan)
    total = len(frames) * pace.frame_s - pace.moving_s
    drift = _row_drift(rows, pace)
    return Panorama(
        shot=shot,
        area=area,
        overlap=wanted,
        usable_share=usable,
        rows=rows,
        frames=frames,
        pace=pace,
        total_s=total,
        row_drift_degrees=drift,
        megabytes=len(frames) * _megapixels(shot) * MEGABYTES_PER_MEGAPIXEL,
        words=_words(rows, total, drift, pace),
    )


def azimuth_spanned_degrees(shot: Shot, altitude_degrees: float) -> float:
    """Return the azimuth that a level frame spans along its middle line [degrees].

    Rectilinear: 2 atan(w / (2 f cos a)). 360 where the line goes round the zenith.
    """
    _, azimuth = seen_from(
        shot, Pointing(altitude_degrees, 180.0), np.array([0.0, shot.width_mm / 2]), np.zeros(2)
    )
    half = float((azimuth[1] - 180.0) % 360.0)
    return 360.0 if math.isnan(half) else 2 * half


def frames_for_turn(shot: Shot, altitude_degrees: float, overlap: float) -> int:
    """Return how many frames go once round at a height with an overlap along the middle line."""
    step = azimuth_spanned_degrees(shot, altitude_degrees) * (1 - overlap)
    return max(1, math.ceil(360.0 / step - 1e-9))


def height_of_view_degrees(shot: Shot) -> float:
    """Return the full angle of the frame's upright side through its centre [degrees]."""
    half = float(off_axis_degrees(shot.height_mm / 2, shot.focal_mm, shot.projection))
    return 360.0 if math.isnan(half) else 2 * half


def _overlap(overlap: float | None, usable_share: float | None) -> float:
    if usable_share is not None and not 0 < usable_share <= 1:
        raise ValueError(f"usable share {usable_share:g} is not between 0 and 1")
    found = overlap
    if found is None:
        found = DEFAULT_OVERLAP if usable_share is None else max(LEAST_OVERLAP, 1 - usable_share)
    if found > LARGEST_OVERLAP:
        raise ValueError(
            f"overlap {100 * found:.0f} % is above {100 * LARGEST_OVERLAP:.0f} %: hardly anything "
            "of each frame would be new; stop the lens down or take 30 to 40 %"
        )
    if found < LEAST_OVERLAP:
        raise ValueError(
            f"overlap {100 * found:.0f} % is below {100 * LEAST_OVERLAP:.0f} %: frames could not "
            "be joined; 30 to 40 % is common practice"
        )
    return found


def _closed_plan(shot: Shot, area: Area, overlap: float, usable: float) -> list[_PlannedRow]:
    """The plan with the fewest frames that holds every direction of the area.

    Upper corners of tilted frames hang lower than the middle of their edge, so plans that reach
    beyond the area's top, with more rows or more frames in a row, are tried as well.
    """
    view = height_of_view_degrees(shot)
    needed = area.high_degrees - area.low_degrees
    least = max(1, math.ceil((needed - view) / (view * (1 - overlap)) - 1e-9) + 1)
    tries = []
    for rows in range(least, least + MORE_ROWS + 1):
        for beyond in BEYOND_SHARES:
            heights = _row_heights(area, view, rows, beyond * view)
            for more in range(MORE_FRAMES + 1):
                plan = [_row(shot, area, heights, k, overlap, more) for k in range(rows)]
                if all(row.frames <= MOST_IN_ROW for row, _ in plan):
                    tries.append(plan)
    directions = vectors(area)
    rim = _rim(shot, area, usable)
    for plan in sorted(tries, key=lambda one: (sum(r.frames for r, _ in one), len(one))):
        pointings = [p for _, row in plan for p in row]
        if _all_held(shot, directions, rim, pointings, usable):
            return plan
    raise ValueError(
        f"the panorama can't be closed: rows up to {area.high_degrees:.0f}° leave gaps (near the "
        "zenith frames of a row turn about each other); end lower, hold the camera upright, allow "
        "more of the frame, or take a wider lens"
    )


def _row_heights(area: Area, view: float, rows: int, beyond: float) -> list[float]:
    """Heights of the rows' centres, lowest first; the top row's edge reaches beyond the area."""
    high = min(area.high_degrees + beyond, 90.0 + view / 2)
    if rows == 1:
        return [min(90.0, (area.low_degrees + high) / 2)]
    inset = min(view, high - area.low_degrees) / 2
    lowest = area.low_degrees + 0.94 * inset
    return [float(h) for h in np.linspace(lowest, min(90.0, high - inset), rows)]


def _row(
    shot: Shot, area: Area, heights: list[float], k: int, overlap: float, more: int
) -> _PlannedRow:
    """A row for its own part of the area, with `more` frames than the overlap asks for."""
    altitude = heights[k]
    span = min(360.0, azimuth_spanned_degrees(shot, altitude))
    low = -math.inf if k == 0 else (heights[k - 1] + altitude) / 2 - area.row_slack_degrees
    high = (
        math.inf
        if k == len(heights) - 1
        else (altitude + heights[k + 1]) / 2 + area.row_slack_degrees
    )
    mine = (area.altitude_degrees >= low) & (area.altitude_degrees <= high)
    away = area.away_degrees[mine] if np.any(mine) else area.away_degrees
    west, width = area.middle_degrees + float(away.min()), float(away.max() - away.min())
    step = span * (1 - overlap)
    if width > 359.0:
        count = max(1, math.ceil(360.0 / step - 1e-9)) + more
        step = 360.0 / count
        azimuths = [west + step * (j + 0.5) for j in range(count)]
    else:
        held = 2 * _narrowest_half_degrees(shot, altitude)
        count = max(1, math.ceil((width - held) / step - 1e-9) + 1) + more
        # The outer frames hold the area's sides over their whole height, with 3 % to spare.
        inset = 0.97 * min(_narrowest_half_degrees(shot, altitude), width / 2)
        step = max(0.0, width - 2 * inset) / (count - 1) if count > 1 else 0.0
        first = west + (inset if count > 1 else width / 2)
        azimuths = [first + step * j for j in range(count)]
    pointings = [Pointing(altitude, azimuth % 360.0) for azimuth in azimuths]
    return Row(altitude, count, step, span), pointings


def _narrowest_half_degrees(shot: Shot, altitude: float) -> float:
    """Azimuth from the middle of a frame to its side where that is least: at an edge."""
    y = np.array([-0.5, 0.0, 0.5]) * shot.height_mm
    _, azimuth = seen_from(shot, Pointing(altitude, 180.0), np.full(3, shot.width_mm / 2), y)
    half = (azimuth - 180.0) % 360.0
    return float(np.nanmin(half))


def _all_held(
    shot: Shot,
    directions: Values,
    rim: NDArray[np.bool_],
    pointings: list[Pointing],
    usable: float,
) -> bool:
    """Whether each direction lies in the usable middle of a frame; at the rim, in any part."""
    open_ones = np.ones(len(directions), dtype=bool)
    for pointing in pointings:
        seen = directions[open_ones] @ pointing.axes().T
        held = inside_frame(shot, seen, usable)
        if usable < 1:
            held |= inside_frame(shot, seen) & rim[open_ones]
        open_ones[np.flatnonzero(open_ones)[held]] = False
    return not bool(open_ones.any())


def _rim(shot: Shot, area: Area, usable: float) -> NDArray[np.bool_]:
    """Directions so near the area's edge that no neighbour's frame is there to help."""
    margin = (1 - usable) / 2 * height_of_view_degrees(shot)
    low = area.altitude_degrees < area.low_degrees + margin
    high = area.altitude_degrees > area.high_degrees - margin
    if area.width_degrees > 359:
        return low | high
    away = area.away_degrees
    grown = margin / np.maximum(np.cos(np.radians(area.altitude_degrees)), 0.05)
    return low | high | (away - away.min() < grown) | (away.max() - away < grown)


def _in_order(plan: list[_PlannedRow], pace: Pace) -> tuple[PanoramaFrame, ...]:
    """Row by row from the land up, each in the same direction: neighbours stay equally far apart
    in time."""
    frames: list[PanoramaFrame] = []
    for row, (_, pointings) in enumerate(plan, start=1):
        for column, pointing in enumerate(pointings, start=1):
            number = len(frames) + 1
            start = (number - 1) * pace.frame_s
            frames.append(PanoramaFrame(number, row, column, pointing, start))
    return tuple(frames)


def _row_drift(rows: tuple[Row, ...], pace: Pace) -> float:
    """At the celestial equator, where the sky turns fastest: a bound for any place."""
    counts = [row.frames for row in rows]
    apart = max([a + b - 1 for a, b in pairwise(counts)] or [counts[0] - 1])
    return math.degrees(EARTH_ROTATION_RAD_S * apart * pace.frame_s)


def _megapixels(shot: Shot) -> float:
    return shot.body.width_px * shot.body.height_px / 1e6


def _words(rows: tuple[Row, ...], total_s: float, drift: float, pace: Pace) -> tuple[str, ...]:
    words = []
    if total_s > 20 * 60:
        words.append(
            f"{total_s / 60:.0f} minutes is long: common practice keeps the sky rows under 20; "
            "take a wider lens, less overlap or a shorter time."
        )
    if pace.dark_frame:
        words.append("The in-camera dark frame doubles the time; take dark frames afterwards.")
    if len(rows) > 1:
        words.append(
            f"Between the first frame of a row and the last of the next the sky turns up to "
            f"{drift:.1f}°: join the sky by its stars, the land by itself."
        )
    words.append(
        "Level the base, keep focus, exposure and white balance fixed, and turn about the lens's "
        "entrance pupil if land is near."
    )
    return tuple(words)
