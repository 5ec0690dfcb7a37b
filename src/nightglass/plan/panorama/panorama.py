"""A panorama: rows and columns of frames, their order and time, drift and disk space."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

from nightglass.light.defaults import EARTH_ROTATION_RAD_S
from nightglass.plan.camera import Pointing, Shot
from nightglass.plan.codes import PanoramaRemark
from nightglass.plan.panorama.area import Area
from nightglass.plan.panorama.rows import PlannedRow, Row, closed_plan
from nightglass.plan.stack import interval_of_s

LARGEST_OVERLAP = 0.9
LEAST_OVERLAP = 0.1
DEFAULT_OVERLAP = 0.35
"""Common practice for stitching in the dark: 30 to 40 %."""
JOINED_OVERLAP = 0.3
"""Even a lens that is good to its corners needs this much for frames to be joined in the dark:
the lower end of common practice."""
SEAM_MARGIN = 0.05
"""Overlap beyond the unusable share, so that the seam has room: common practice."""
SAVING_S = 2.0
MOVING_S = 6.0
"""To turn the head and let it settle: common practice, 5 to 10 s."""
LONG_S = 20 * 60.0
"""Common practice keeps the sky rows under 20 minutes."""
MEGABYTES_PER_MEGAPIXEL = 1.3
"""Raw, 14 bits, lossless: common practice, 1.1 to 1.5."""


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
class Pace:
    """How long each frame takes."""

    exposure_s: float
    """True time."""
    saving_s: float = SAVING_S
    moving_s: float = MOVING_S
    dark_frame: bool = False
    """In-camera dark frame on: each exposure takes twice its time."""

    def __post_init__(self) -> None:
        if not (self.exposure_s > 0 and math.isfinite(self.exposure_s)):
            raise ValueError(f"a frame of {self.exposure_s:g} s; its true time is above 0")
        for name, time_s in (("saving", self.saving_s), ("turning", self.moving_s)):
            if not (time_s >= 0 and math.isfinite(time_s)):
                raise ValueError(f"{name} takes {time_s:g} s; it can't be negative")

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
    remarks: tuple[PanoramaRemark, ...]


def used_share(plan: Panorama) -> float:
    """Return the middle share of the frame's sides that ends up in the picture.

    Seams lie in the middle of the overlap, and never outside the usable share.
    """
    return min(plan.usable_share, 1 - plan.overlap)


def frames_each_within(plan: Panorama, time_s: float) -> int:
    """Return how many frames each panel gets if a panorama of stacks is to be done within a time.

    The plan has one frame for each panel; more are made at once, as a stack is. 0 where the time
    is too short for one each.
    """
    round_s = len(plan.frames) * interval_of_s(plan.pace.exposure_s)
    return max(0, math.floor((time_s - plan.total_s) / round_s + 1e-9) + 1)


def plan_panorama(
    shot: Shot,
    area: Area,
    pace: Pace,
    overlap: float | None = None,
    usable_share: float | None = None,
) -> Panorama:
    """Return rows and columns that cover an area.

    overlap: share of the frame's angle, 0.1 to 0.9. usable_share: the middle share of the
    frame's sides that is good enough on the bench; the seams then use only that, and without an
    overlap named it is the unusable share and 5 %, at least 30 %. Without both an overlap of 35 %.
    Raises ValueError for overlaps outside, and for areas that can't be closed.
    """
    wanted = _overlap(overlap, usable_share)
    usable = usable_share if usable_share is not None else 1.0
    plan = closed_plan(shot, area, wanted, usable)
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
        remarks=_remarks(rows, total, pace),
    )


def _overlap(overlap: float | None, usable_share: float | None) -> float:
    if usable_share is not None and not 0 < usable_share <= 1:
        raise ValueError(f"usable share {usable_share:g} is not between 0 and 1")
    found = overlap
    if found is None:
        found = DEFAULT_OVERLAP
        if usable_share is not None:
            needed = 1 - usable_share
            roomy = min(needed + SEAM_MARGIN, max(needed, LARGEST_OVERLAP))
            found = max(JOINED_OVERLAP, roomy)
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


def _in_order(plan: list[PlannedRow], pace: Pace) -> tuple[PanoramaFrame, ...]:
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


def _remarks(rows: tuple[Row, ...], total_s: float, pace: Pace) -> tuple[PanoramaRemark, ...]:
    held = {
        PanoramaRemark.LONG: total_s > LONG_S,
        PanoramaRemark.DARK_FRAME: pace.dark_frame,
        PanoramaRemark.JOIN_APART: len(rows) > 1,
        PanoramaRemark.LEVEL_BASE: True,
    }
    return tuple(remark for remark, holds in held.items() if holds)
