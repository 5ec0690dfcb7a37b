"""A stack: how many frames, how long, when more stop helping, and what to set on the remote."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from nightglass.almanac.trail import frame_grid_mm, pole_direction
from nightglass.light.defaults import EARTH_ROTATION_RAD_S
from nightglass.optics.projection import directions
from nightglass.plan.camera import Pointing, Shot, inside_frame, sky_aim
from nightglass.plan.codes import StackRemark
from nightglass.plan.depth import Depth, DepthChoice, depth, frames_for, limiting_mag_of

GAP_S = 3.0
"""Between the end of an exposure and the next: saving, and a true 30 that is 32; common practice
2 to 3 s."""
COMMON_FIELD_SHARE = 0.8
"""More frames stop helping when less of the frame than this is shared by first and last."""
READ_NOISE_COUNTS_PERCENT = 5.0
"""Read noise that lengthens a frame's noise by more is worth a word: common practice."""
MOST_FRAMES = 2000


@dataclass(frozen=True)
class StackGoal:
    """What the stack is for: one of the three."""

    frames: int | None = None
    noise_share: float | None = None
    """Noise of the mean over that of one frame: 0.25 is a quarter."""
    depth_mag: float | None = None
    """V magnitude of the faintest star at SNR 5."""

    def __post_init__(self) -> None:
        named = [w for w in (self.frames, self.noise_share, self.depth_mag) if w is not None]
        if len(named) != 1:
            raise ValueError("name one wish: a number of frames, a noise, or a depth")
        if self.noise_share is not None and not 0 < self.noise_share <= 1:
            raise ValueError(
                f"a noise of {100 * self.noise_share:g} % of one frame's is none; give above 0 to "
                "100, 50 is half of it"
            )


@dataclass(frozen=True)
class StackPlan:
    """A run of equal frames from an unmoved tripod, to be aligned on the stars."""

    shot: Shot
    frames: int
    exposure_s: float
    gap_s: float
    interval_s: float
    """To set on the remote: true exposure and gap, whole seconds, rounded up."""
    total_s: float
    one: Depth
    noise_share: float
    """Noise of the mean over that of one frame."""
    stops: float
    """Light gained over one frame."""
    limiting_mag: float
    """V at SNR 5 of the mean."""
    common_share: float
    """Share of the frame that first and last frame both hold."""
    useful_s: float
    """Time after which they share less than 80 %; inf about the pole of the sky."""
    useful_frames: int | None
    """Frames until then; None where the sky turns within the frame without end."""
    drift_percent: float
    """How far land moves against the stars at the frame centre, % of picture height."""
    remarks: tuple[StackRemark, ...]


def plan_stack(
    shot: Shot,
    exposure_s: float,
    pointing: Pointing,
    latitude_degrees: float,
    wish: StackGoal,
    gap_s: float = GAP_S,
    choice: DepthChoice | None = None,
) -> StackPlan:
    """Return the stack for a wish.

    exposure_s: true time of one frame. Raises ValueError for wishes that need more than 2000
    frames, and for times of 0 or less.
    """
    if gap_s < 0:
        raise ValueError(f"the gap is {gap_s:g} s; it can't be negative")
    one = depth(shot, exposure_s, choice)
    count = _count(shot, exposure_s, wish, choice)
    interval = interval_of_s(exposure_s, gap_s)
    total = count * interval - (interval - exposure_s)
    useful = useful_time_s(shot, pointing, latitude_degrees)
    turned = EARTH_ROTATION_RAD_S * max(0.0, total - exposure_s)
    aim = sky_aim(pointing, latitude_degrees)
    drift = shot.focal_mm * turned * math.cos(math.radians(aim.declination_degrees))
    useful_frames = None if math.isinf(useful) else max(1, int(useful // interval) + 1)
    return StackPlan(
        shot=shot,
        frames=count,
        exposure_s=exposure_s,
        gap_s=gap_s,
        interval_s=float(interval),
        total_s=total,
        one=one,
        noise_share=1 / math.sqrt(count),
        stops=math.log2(count),
        limiting_mag=limiting_mag_of(shot, exposure_s, count, choice),
        common_share=common_share(shot, pointing, latitude_degrees, total),
        useful_s=useful,
        useful_frames=useful_frames,
        drift_percent=100 * drift / shot.picture_height_mm,
        remarks=_remarks(count, useful_frames, one.read_noise_lengthens_percent),
    )


def interval_of_s(exposure_s: float, gap_s: float = GAP_S) -> int:
    """Return what to set on the remote: true exposure and gap, whole seconds, rounded up."""
    return math.ceil(exposure_s + gap_s - 1e-9)


def frames_within(time_s: float, exposure_s: float, gap_s: float = GAP_S) -> int:
    """Return how many frames of a stack fit into a time; 0 where not even one does.

    exposure_s: true time of one frame.
    """
    after_first = (time_s - exposure_s) / interval_of_s(exposure_s, gap_s)
    return max(0, math.floor(after_first + 1e-9) + 1)


def common_share(
    shot: Shot, pointing: Pointing, latitude_degrees: float, elapsed_s: float
) -> float:
    """Return the share of the frame whose sky is still in the frame after a time."""
    x, y = frame_grid_mm(shot.width_mm, shot.height_mm, 61, 41)
    vectors = directions(x, y, shot.focal_mm, shot.projection).reshape(-1, 3)
    pole = pole_direction(sky_aim(pointing, latitude_degrees))
    angle = -EARTH_ROTATION_RAD_S * elapsed_s
    along = (vectors @ pole)[:, None] * pole
    across = vectors - along
    turned = along + across * math.cos(angle) + np.cross(pole, vectors) * math.sin(angle)
    known = ~np.isnan(vectors[:, 0])
    return float(np.count_nonzero(inside_frame(shot, turned)[known]) / np.count_nonzero(known))


def useful_time_s(shot: Shot, pointing: Pointing, latitude_degrees: float) -> float:
    """Return how long first and last frame share at least 80 %, to 1 %; inf if all night."""
    low, high = 0.0, 6 * 3600.0
    if common_share(shot, pointing, latitude_degrees, high) >= COMMON_FIELD_SHARE:
        return math.inf
    while high - low > 0.01 * high:
        middle = (low + high) / 2
        if common_share(shot, pointing, latitude_degrees, middle) >= COMMON_FIELD_SHARE:
            low = middle
        else:
            high = middle
    return low


def _count(shot: Shot, exposure_s: float, wish: StackGoal, choice: DepthChoice | None) -> int:
    if wish.frames is not None:
        count = wish.frames
    elif wish.noise_share is not None:
        count = math.ceil(wish.noise_share**-2 - 1e-9)
    else:
        count = frames_for(shot, exposure_s, float(wish.depth_mag or 0.0), choice)
    if not 1 <= count <= MOST_FRAMES:
        wanted = f"more than {MOST_FRAMES}" if count > MOST_FRAMES else count
        raise ValueError(
            f"that takes {wanted} frames; 1 to {MOST_FRAMES} can be planned: take a brighter lens, "
            "a longer time, or a smaller wish"
        )
    return count


def _remarks(
    frames: int, useful_frames: int | None, noise_lengthens_percent: float
) -> tuple[StackRemark, ...]:
    remarks = [StackRemark.MORE_LIGHT]
    if useful_frames is not None:
        late = frames > useful_frames
        remarks.append(StackRemark.HAS_DRIFTED if late else StackRemark.WILL_DRIFT)
    if noise_lengthens_percent > READ_NOISE_COUNTS_PERCENT:
        remarks.append(StackRemark.READ_NOISE)
    return (*remarks, StackRemark.LAND_SMEARS)
