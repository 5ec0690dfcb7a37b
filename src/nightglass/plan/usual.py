"""The plans that every field card carries: a half round panorama and a stack of sixteen."""

from __future__ import annotations

from nightglass.plan.camera import Pointing, Shot
from nightglass.plan.panorama.area import box
from nightglass.plan.panorama.panorama import Pace, Panorama, plan_panorama
from nightglass.plan.stack import StackGoal, StackPlan, plan_stack

WIDTH_DEGREES, LOW_DEGREES, HIGH_DEGREES = 180.0, -5.0, 60.0
"""What the command panorama covers when nothing else is asked for."""
STACK_FRAMES = 16
"""Noise a quarter of one frame's; the command stack takes the same."""
_AIM, _LATITUDE_DEGREES = Pointing(45.0, 180.0), 45.0
"""Neither the frames of such a stack nor its interval depend on them."""


def usual_panorama(shot: Shot, exposure_s: float, usable_share: float | None) -> Panorama | None:
    """Return the panorama of 180 degrees from the land to 60 degrees; None if it can't be closed.

    exposure_s: true time of a frame.
    """
    area = box(180.0, WIDTH_DEGREES, LOW_DEGREES, HIGH_DEGREES)
    try:
        return plan_panorama(shot, area, Pace(exposure_s), None, usable_share)
    except ValueError:
        return None


def usual_stack(shot: Shot, exposure_s: float) -> StackPlan:
    """Return the stack of sixteen frames at a true time."""
    wish = StackGoal(frames=STACK_FRAMES)
    return plan_stack(shot, exposure_s, _AIM, _LATITUDE_DEGREES, wish)
