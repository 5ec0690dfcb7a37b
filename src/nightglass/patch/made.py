"""How a setting's picture is made: of one frame, of a stack, or of a panorama's panels."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from nightglass.gear.benchfile import BenchFile
from nightglass.plan.camera import Pointing, Shot, inside_frame
from nightglass.plan.panorama.area import like_frame, vectors
from nightglass.plan.panorama.panorama import (
    Pace,
    Panorama,
    frames_each_within,
    plan_panorama,
)
from nightglass.plan.panorama.usable import usable_of
from nightglass.plan.stack import frames_within
from nightglass.plan.wishes import AreaWish
from nightglass.verdict.candidate import Candidate
from nightglass.verdict.view.eye import Eye, eye_arcmin, eye_on_sky

MOST_MINUTES = 720.0
"""A long night."""
AIM = Pointing(AreaWish().like_height_degrees, AreaWish().middle_degrees)
"""Of the frame whose field a panorama covers: as the panorama plan has it."""


class MadeAs(StrEnum):
    """What a picture is made of."""

    SINGLE = "single"
    STACK = "stack"
    PANORAMA = "panorama"


@dataclass(frozen=True)
class SameMinutes:
    """Minutes that both settings get, and what each makes of them.

    Raises ValueError for no time, and for more than a night.
    """

    minutes: float
    made_as: tuple[MadeAs, MadeAs] = (MadeAs.STACK, MadeAs.STACK)

    def __post_init__(self) -> None:
        if not 0 < self.minutes <= MOST_MINUTES:
            raise ValueError(
                f"--minutes {self.minutes:g} is no time to make a picture in; give above 0 and at "
                f"most {MOST_MINUTES:g}, like 10"
            )


@dataclass(frozen=True)
class Made:
    """What a picture is made of: panels, and frames of each."""

    made_as: MadeAs
    frames: int
    """Stacked, of each panel."""
    panels: int = 1
    one_holds_all: bool = False
    """A panorama was asked for, but one frame holds the other's field: it is a stack."""
    usable_share: float = 1.0
    """Middle share of a panel's sides that the seams use."""

    def uses(self, x: float, y: float) -> bool:
        """Return whether seams can keep a place of the frame: x, y are -1 to 1, side to side."""
        return max(abs(x), abs(y)) <= self.usable_share


def made_of_frames(frames: int) -> Made:
    """Return what so many frames of one aim make."""
    return Made(MadeAs.SINGLE if frames == 1 else MadeAs.STACK, frames)


def made_within(
    one: Candidate, other: Candidate, file: BenchFile, wish: SameMinutes, k: int
) -> Made:
    """Return what a setting makes of the minutes.

    k: which of the wish's words is the setting's, 0 or 1. A panorama covers the other's field.
    Raises ValueError for minutes that are too few, and where no panorama can be planned.
    """
    time_s, exposure_s = 60 * wish.minutes, one.light.exposure_s
    made_as = wish.made_as[k]
    if made_as is MadeAs.PANORAMA and not one_frame_holds(one, other):
        plan = panorama_over(one, other, file)
        each, panels = frames_each_within(plan, time_s), len(plan.frames)
        if each < 1:
            raise _too_short(wish, plan.total_s, f"a panorama of {panels} panels", one)
        return Made(made_as, each, panels, usable_share=plan.usable_share)
    fitting = frames_within(time_s, exposure_s)
    if fitting < 1:
        raise _too_short(wish, exposure_s, "one frame", one)
    if made_as is MadeAs.SINGLE:
        return Made(made_as, 1)
    return Made(MadeAs.STACK, fitting, one_holds_all=made_as is MadeAs.PANORAMA)


def one_frame_holds(one: Candidate, other: Candidate) -> bool:
    """Return whether a level frame of one holds all that a level frame of the other shows."""
    field = vectors(like_frame(_shot(other), AIM)) @ AIM.axes().T
    return bool(inside_frame(_shot(one), field).all())


def panorama_over(one: Candidate, other: Candidate, file: BenchFile) -> Panorama:
    """Return the plan of upright panels by which one covers the other's field, a frame for each.

    Raises ValueError where nothing of the frame is usable or the panels leave gaps.
    """
    shot = _shot(one, portrait=True)
    limit = None if file.limit is None else file.limit.percent
    area = like_frame(_shot(other), AIM)
    try:
        share = usable_of(one.result, shot, limit, one.light.falloff)
        return plan_panorama(shot, area, Pace(one.light.exposure_s), usable_share=share)
    except ValueError as error:
        setting = one.result.setting
        raise ValueError(
            f"no panorama by {setting.lens} at f/{setting.f_number:g}: {error}"
        ) from error


def eye_in(one: Candidate, other: Candidate, made: Made, eye: Eye) -> Eye:
    """Return the eye as it looks at frames of one.

    A panorama's picture is the other's field: it is shown at the other's scale on the sky.
    """
    if made.made_as is not MadeAs.PANORAMA:
        return eye
    return eye_on_sky(eye, eye_arcmin(eye, other.body, other.focal_mm), one.body, one.focal_mm)


def _shot(one: Candidate, portrait: bool = False) -> Shot:
    setting = one.result.setting
    return Shot(one.body, setting.focal_mm, setting.f_number, one.lens.projection, portrait)


def _too_short(wish: SameMinutes, least_s: float, what: str, one: Candidate) -> ValueError:
    setting, least = one.result.setting, math.ceil(least_s / 6 - 1e-9) / 10
    return ValueError(
        f"--minutes {wish.minutes:g} is too short for {what} by {setting.lens} at "
        f"f/{setting.f_number:g}; give --minutes {least:g} or more"
    )
