"""Rows of frames that hold every direction of an area, on the sphere.

A level camera aimed at height a spans more azimuth the higher it looks: 2 atan(w / 2 f cos a)
along its middle line; its upper corners hang lower than the middle of its upper edge. Plans are
therefore tried and checked direction by direction, and the one with the fewest frames is taken.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from nightglass.optics.arrays import Flags, Floats
from nightglass.optics.projection import off_axis_degrees
from nightglass.plan.camera import Pointing, Shot, inside_frame, seen_from
from nightglass.plan.panorama.area import Area, vectors

MOST_IN_ROW = 60
MORE_ROWS, MORE_FRAMES = 2, 3
"""How far plans are tried beyond what the overlap asks for."""
BEYOND_SHARES = (0.0, 0.05, 0.1, 0.15, 0.2, 0.3)
"""How far the top row may reach beyond the area, over the frame's height of view."""


@dataclass(frozen=True)
class Row:
    """One row."""

    altitude_degrees: float
    frames: int
    step_degrees: float
    """Of azimuth, from frame to frame."""
    azimuth_spanned_degrees: float
    """By one frame along its middle line."""


PlannedRow = tuple[Row, list[Pointing]]


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


def closed_plan(shot: Shot, area: Area, overlap: float, usable: float) -> list[PlannedRow]:
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
) -> PlannedRow:
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
    directions: Floats,
    rim: Flags,
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


def _rim(shot: Shot, area: Area, usable: float) -> Flags:
    """Directions so near the area's edge that no neighbour's frame is there to help."""
    margin = (1 - usable) / 2 * height_of_view_degrees(shot)
    low = area.altitude_degrees < area.low_degrees + margin
    high = area.altitude_degrees > area.high_degrees - margin
    if area.width_degrees > 359:
        return low | high
    away = area.away_degrees
    grown = margin / np.maximum(np.cos(np.radians(area.altitude_degrees)), 0.05)
    return low | high | (away - away.min() < grown) | (away.max() - away < grown)
