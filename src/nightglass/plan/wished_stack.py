"""A stack as a person asks for it: from the words typed to the plan."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from nightglass.light.defaults import SKY_BRIGHTNESS
from nightglass.plan.aim import aim_wish
from nightglass.plan.depth import NOISE_AREA_PX, DepthChoice
from nightglass.plan.gear_choice import GearNote, gear_choice
from nightglass.plan.panorama.compare import longest_for
from nightglass.plan.stack import StackGoal, StackPlan, plan_stack
from nightglass.plan.usual import STACK_FRAMES
from nightglass.plan.where import wished_place
from nightglass.plan.wishes import DepthWish, StackGoalWish, StackWish


@dataclass(frozen=True)
class WishedStack:
    """A stack and how its gear was found."""

    stack: StackPlan
    notes: tuple[GearNote, ...]


def wished_stack(wish: StackWish, folder: Path) -> WishedStack:
    """Return the stack asked for; sixteen frames where nothing says how many.

    Raises ValueError for words that are no place, aim or gear, and for wishes out of reach.
    """
    chosen = gear_choice(wish.gear, folder)
    there = wished_place(wish.place, folder)
    pointing = aim_wish(wish.run.aim).pointing
    if pointing is None:
        raise ValueError('a stack is planned for a fixed aim: azimuth and height, like "180 30"')
    latitude = there.place.latitude_degrees
    time_s = wish.time.exposure_s
    if time_s is None:
        longest = longest_for(chosen.shot, [pointing], latitude, chosen.tolerance, there.horizon)
        time_s = chosen.true_s(longest, wish.time.remote)
    plan = plan_stack(
        chosen.shot,
        time_s,
        pointing,
        latitude,
        _goal(wish.run),
        wish.run.gap_s,
        _choice(wish.run, wish.depth),
    )
    return WishedStack(plan, chosen.notes)


def _goal(run: StackGoalWish) -> StackGoal:
    asked = (run.frames, run.noise_percent, run.depth_mag)
    frames = STACK_FRAMES if asked == (None, None, None) else run.frames
    share = None if run.noise_percent is None else run.noise_percent / 100
    return StackGoal(frames, share, run.depth_mag)


def _choice(run: StackGoalWish, spot: DepthWish) -> DepthChoice:
    return DepthChoice(
        sky_mag=SKY_BRIGHTNESS.value if run.sky_mag is None else run.sky_mag,
        noise_area_px=NOISE_AREA_PX if spot.noise_area_px is None else spot.noise_area_px,
    )
