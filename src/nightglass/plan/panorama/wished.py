"""A panorama as a person asks for it: from the words typed to the plan and what it gains."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path

from nightglass.almanac.night import nights
from nightglass.plan.camera import Pointing, Shot
from nightglass.plan.codes import GearNoteCode
from nightglass.plan.depth import NOISE_AREA_PX, DepthChoice
from nightglass.plan.gear_choice import GearChoice, GearNote, gear_choice
from nightglass.plan.moment import evening_of, moment_of
from nightglass.plan.panorama.area import Area, arch, arch_stands, box, like_frame
from nightglass.plan.panorama.compare import AgainstWide, against_wide, longest_for
from nightglass.plan.panorama.panorama import Pace, Panorama, plan_panorama, used_share
from nightglass.plan.panorama.usable import lit_share, usable_of
from nightglass.plan.usual import WIDTH_DEGREES
from nightglass.plan.where import Where, site_of, wished_place
from nightglass.plan.wishes import AreaWish, PanoramaWish

ARCH_STEP = timedelta(minutes=15)


@dataclass(frozen=True)
class PanoramaPlan:
    """A panorama, where and when it was planned for, and what it gains."""

    panorama: Panorama
    against: AgainstWide | None
    there: Where | None
    moment: datetime | None
    """Of the first frame, aware; None with `there`, where neither was asked for nor needed."""
    notes: tuple[GearNote, ...]


def wished_panorama(wish: PanoramaWish, folder: Path) -> PanoramaPlan:
    """Return the panorama asked for.

    The time of a frame needs the frames' places, and the plan a time: places do not depend on it,
    so the plan is made with any time first. Raises ValueError for words that are no place, date or
    gear, and for areas that can't be closed.
    """
    chosen = gear_choice(wish.gear, folder, portrait=True)
    there = _there(wish, folder)
    moment = None if there is None else _moment(wish, there)
    area = _area(wish.area, _like(wish, chosen.shot), there, moment)
    plan = _closed(
        wish, chosen, area, 1.0 if wish.time.exposure_s is None else wish.time.exposure_s
    )
    if wish.time.exposure_s is None and there is not None:
        plan = _closed(wish, chosen, area, _frame_s(wish, chosen, plan, there))
    wide = _wide(wish, chosen.shot)
    against = None if wide is None else _against(wish, chosen, plan, wide, there)
    return PanoramaPlan(plan, against, there, moment, (*chosen.notes, *_dark_rim(chosen, plan)))


def _dark_rim(chosen: GearChoice, plan: Panorama) -> tuple[GearNote, ...]:
    """That the light, not the blur, sets the usable part of the frame."""
    lit = 1.0 if chosen.falloff is None else lit_share(chosen.falloff)
    if chosen.falloff is None or lit == 1 or plan.usable_share != lit:
        return ()
    values: dict[str, str | int] = {
        "percent": round(100 * lit), "known_from": chosen.falloff.source.value,
    }  # fmt: skip
    return (GearNote(GearNoteCode.FALLOFF_LIMITS, values),)


def _there(wish: PanoramaWish, folder: Path) -> Where | None:
    """The place, where it is known; it is asked for only when it is needed."""
    needed = wish.area.arch or wish.time.exposure_s is None
    if wish.place.at is None and not needed and site_of(folder).place is None:
        return None
    return wished_place(wish.place, folder)


def _moment(wish: PanoramaWish, there: Where) -> datetime:
    """The time typed; else the best of the night, for an arch the best at which it is one."""
    best = moment_of(wish.when, there)
    if not wish.area.arch or wish.when.time is not None or arch_stands(there.place, best):
        return best
    (night,) = nights(there.place, evening_of(wish.when.date, there), 1, horizon=there.horizon)
    quarters = [
        window.start + ARCH_STEP * k
        for window in night.target.up_and_dark
        for k in range(int((window.end - window.start) / ARCH_STEP) + 1)
    ]
    standing = [at for at in quarters if arch_stands(there.place, at)]
    # The nearer to the best time, the higher the centre.
    nearest = min(standing, key=lambda at: abs(at - best), default=best)
    return nearest.astimezone(there.place.zone)


def _area(wish: AreaWish, like: Shot | None, there: Where | None, moment: datetime | None) -> Area:
    low, high = _heights(wish.heights)
    middle = wish.middle_degrees % 360
    if wish.arch and there is not None and moment is not None:
        return arch(there.place, moment, max(-5.0, low))
    if like is not None:
        return like_frame(like, Pointing(wish.like_height_degrees, middle))
    width = WIDTH_DEGREES if wish.width_degrees is None else wish.width_degrees
    return box(middle, width, low, high)


def _closed(wish: PanoramaWish, chosen: GearChoice, area: Area, exposure_s: float) -> Panorama:
    overlap, usable = wish.overlap.overlap_percent, wish.overlap.usable_percent
    share = None if usable is None else usable / 100
    if share is None and overlap is None:
        share = usable_of(chosen.result, chosen.shot, chosen.limit_percent, chosen.falloff)
    pace = Pace(exposure_s, wish.pace.saving_s, wish.pace.turning_s, wish.pace.dark_frame)
    wanted = None if overlap is None else overlap / 100
    return plan_panorama(chosen.shot, area, pace, wanted, share)


def _frame_s(wish: PanoramaWish, chosen: GearChoice, plan: Panorama, there: Where) -> float:
    """The true time that keeps every frame of a plan within the tolerance."""
    longest = longest_for(
        chosen.shot,
        [frame.pointing for frame in plan.frames],
        there.place.latitude_degrees,
        chosen.tolerance,
        there.horizon,
        used_share(plan),
    )
    return chosen.true_s(longest, wish.time.remote)


def _like(wish: PanoramaWish, shot: Shot) -> Shot | None:
    return _level(shot, wish.area.like_mm, wish.wide.wide_f_number)


def _wide(wish: PanoramaWish, shot: Shot) -> Shot | None:
    focal_mm = wish.area.like_mm if wish.wide.wide_focal_mm is None else wish.wide.wide_focal_mm
    return _level(shot, focal_mm, wish.wide.wide_f_number)


def _level(shot: Shot, focal_mm: float | None, f_number: float | None) -> Shot | None:
    """The same body held level with another lens; None without a focal length."""
    if focal_mm is None:
        return None
    return replace(shot, focal_mm=focal_mm, f_number=f_number or shot.f_number, portrait=False)


def _against(
    wish: PanoramaWish, chosen: GearChoice, plan: Panorama, wide: Shot, there: Where | None
) -> AgainstWide:
    aim = [Pointing(wish.area.like_height_degrees, plan.area.middle_degrees)]
    latitude = 0.0 if there is None else there.place.latitude_degrees
    longest = longest_for(wide, aim, latitude, chosen.tolerance)
    taken = wish.depth.noise_area_px
    choice = DepthChoice(noise_area_px=NOISE_AREA_PX if taken is None else taken)
    return against_wide(plan, wide, chosen.true_s(longest, wish.time.remote), choice)


def _heights(text: str) -> tuple[float, float]:
    match = re.fullmatch(r"\s*(-?\d+(?:\.\d*)?)\s*\.\.\s*(-?\d+(?:\.\d*)?)\s*", text)
    if not match:
        raise ValueError(
            f'--heights "{text}" are not two heights; write the lower and the greater one, like '
            "-5..60"
        )
    return float(match[1]), float(match[2])
