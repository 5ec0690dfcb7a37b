"""Commands of the night planner: how many frames (panorama, stack)."""

from __future__ import annotations

import re
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from nightglass.cli import night as doors
from nightglass.cli import night_gear as gear
from nightglass.cli.doors import print_json, refuse_unless_above_zero

if TYPE_CHECKING:
    from nightglass.plan.where import Where

ExposureOption = Annotated[
    float | None,
    typer.Option("--exposure", help="True time of a frame (s); without it the longest allowed."),
]
TimeOption = Annotated[str | None, typer.Option("--time", help="Local clock of the first frame.")]
DateOption = Annotated[str | None, typer.Option("--date", help="Evening of the night.")]
NoiseAreaOption = Annotated[
    float | None, typer.Option("--noise-area", help="Noise area of a star's spot (px).")
]


def panorama(
    width: Annotated[
        float | None, typer.Option("--width", help="Azimuth to cover (degrees).")
    ] = None,
    heights: Annotated[
        str, typer.Option("--heights", help="Lowest and greatest height (degrees), like -5..60.")
    ] = "-5..60",
    middle: Annotated[
        float, typer.Option("--middle", help="Azimuth of the middle (degrees).")
    ] = 180.0,
    like: Annotated[
        float | None, typer.Option("--like", help="Cover what this focal length shows (mm).")
    ] = None,
    like_height: Annotated[
        float, typer.Option("--like-height", help="How high that frame is aimed (degrees).")
    ] = 30.0,
    arch: Annotated[bool, typer.Option("--arch", help="Cover the Milky Way's arch.")] = False,
    wide: Annotated[
        float | None,
        typer.Option("--wide", help="Hold against one frame of this focal length (mm)."),
    ] = None,
    wide_aperture: Annotated[float | None, typer.Option("--wide-f", help="Its f-number.")] = None,
    overlap: Annotated[float | None, typer.Option("--overlap", help="Overlap (%).")] = None,
    usable: Annotated[
        float | None, typer.Option("--usable", help="Good middle part of the frame's sides (%).")
    ] = None,
    exposure: ExposureOption = None,
    saving: Annotated[float, typer.Option("--saving", help="Saving time (s).")] = 2.0,
    turning: Annotated[float, typer.Option("--turning", help="Time to turn and settle (s).")] = 6.0,
    dark: Annotated[bool, typer.Option("--dark", help="In-camera dark frame is on.")] = False,
    lens: gear.LensOption = None,
    focal: gear.FocalOption = None,
    aperture: gear.ApertureOption = None,
    sensor: gear.SensorOption = None,
    pixels: gear.PixelsOption = None,
    portrait: gear.PortraitOption = True,
    trail: gear.LimitOption = None,
    remote: gear.RemoteOption = True,
    noise_area: NoiseAreaOption = None,
    at: doors.AtOption = None,
    zone: doors.ZoneOption = None,
    height: doors.HeightOption = None,
    horizon: doors.HorizonOption = None,
    date: DateOption = None,
    time: TimeOption = None,
    bench: doors.BenchOption = Path(),
    out: Annotated[Path | None, typer.Option("--out", help="Folder for picture and list.")] = None,
    as_json: doors.JsonOption = False,
) -> None:
    """Plan rows and columns of frames on the sphere, their order and time, and what they gain."""
    from nightglass.plan.camera import Pointing
    from nightglass.plan.depth import NOISE_AREA_PX, DepthChoice
    from nightglass.plan.panorama import area as areas
    from nightglass.plan.panorama.compare import against_wide, longest_for
    from nightglass.plan.panorama.panorama import Pace, plan_panorama, used_share
    from nightglass.show.plan.panorama.text import panorama_data, panorama_lines

    refuse_unless_above_zero(
        {"--exposure": exposure, "--like": like, "--noise-area": noise_area, "--usable": usable}
    )
    chosen = gear.gear_choice(bench, lens, focal, aperture, sensor, pixels, portrait)
    shot = chosen.shot
    there, moment = _there(at, zone, height, horizon, bench, date, time, arch or exposure is None)
    wide_shot = gear.wide_shot(shot, wide if wide is not None else like, wide_aperture)
    low, high = _heights(heights)
    if arch and there is not None and moment is not None:
        covered = areas.arch(there.place, moment, max(-5.0, low))
    elif like is not None:
        frame = gear.wide_shot(shot, like, wide_aperture)
        covered = areas.like_frame(frame or shot, Pointing(like_height, middle % 360))
    else:
        covered = areas.box(middle % 360, 180.0 if width is None else width, low, high)
    share = None if usable is None else usable / 100
    if share is None and overlap is None:
        share = gear.usable_of(chosen)
    tolerance = chosen.tolerance(trail)
    wanted = None if overlap is None else overlap / 100
    # The time of a frame needs the frames' places, and the plan a time: places do not depend on it.
    plan = plan_panorama(
        shot,
        covered,
        Pace(1.0 if exposure is None else exposure, saving, turning, dark),
        wanted,
        share,
    )
    if exposure is None and there is not None:
        aims = [frame.pointing for frame in plan.frames]
        latitude = there.place.latitude_degrees
        middle_part = used_share(plan)
        longest = longest_for(shot, aims, latitude, tolerance, there.horizon, middle_part)
        pace = Pace(gear.practical_s(longest, shot, remote), saving, turning, dark)
        plan = plan_panorama(shot, covered, pace, wanted, share)
    against = None
    if wide_shot is not None:
        aim = [Pointing(like_height, covered.middle_degrees)]
        latitude = 0.0 if there is None else there.place.latitude_degrees
        wide_s = gear.practical_s(longest_for(wide_shot, aim, latitude, tolerance), shot, remote)
        choice = DepthChoice(noise_area_px=NOISE_AREA_PX if noise_area is None else noise_area)
        against = against_wide(plan, wide_shot, wide_s, choice)
    if as_json:
        print_json(panorama_data(plan, against))
    else:
        print("\n".join([*panorama_lines(plan, against), "", *chosen.notes]))
    if out is not None:
        from nightglass.show.plan.panorama.files import write_panorama

        for path in write_panorama(plan, out, there, moment):
            if not as_json:
                print(f"  written: {path}")


def stack(
    aim: Annotated[str, typer.Option("--aim", help='Azimuth and height: "180 30".')] = "180 30",
    frames: Annotated[int | None, typer.Option("--frames", help="How many frames.")] = None,
    noise: Annotated[
        float | None, typer.Option("--noise", help="Wanted noise, % of one frame's.")
    ] = None,
    depth: Annotated[
        float | None, typer.Option("--depth", help="Wanted depth: V magnitude at SNR 5.")
    ] = None,
    exposure: ExposureOption = None,
    gap: Annotated[float, typer.Option("--gap", help="Between frames (s).")] = 3.0,
    lens: gear.LensOption = None,
    focal: gear.FocalOption = None,
    aperture: gear.ApertureOption = None,
    sensor: gear.SensorOption = None,
    pixels: gear.PixelsOption = None,
    portrait: gear.PortraitOption = None,
    trail: gear.LimitOption = None,
    remote: gear.RemoteOption = True,
    sky: doors.SkyOption = None,
    noise_area: NoiseAreaOption = None,
    at: doors.AtOption = None,
    zone: doors.ZoneOption = None,
    horizon: doors.HorizonOption = None,
    bench: doors.BenchOption = Path(),
    as_json: doors.JsonOption = False,
) -> None:
    """Plan a stack: frames, interval, time, and when more frames stop helping."""
    from nightglass.light.defaults import SKY_BRIGHTNESS
    from nightglass.plan.aim import aim_wish
    from nightglass.plan.depth import NOISE_AREA_PX, DepthChoice
    from nightglass.plan.panorama.compare import longest_for
    from nightglass.plan.stack import StackWish, plan_stack
    from nightglass.plan.usual import STACK_FRAMES
    from nightglass.show.plan.panorama.stack import stack_data, stack_lines

    refuse_unless_above_zero(
        {"--exposure": exposure, "--frames": frames, "--noise": noise, "--noise-area": noise_area}
    )
    chosen = gear.gear_choice(bench, lens, focal, aperture, sensor, pixels, portrait)
    there = doors.place_of(at, zone, None, horizon, bench)
    pointing = aim_wish(aim).pointing
    if pointing is None:
        raise ValueError('a stack is planned for a fixed aim: azimuth and height, like "180 30"')
    latitude = there.place.latitude_degrees
    tolerance = chosen.tolerance(trail)
    longest = longest_for(chosen.shot, [pointing], latitude, tolerance, there.horizon)
    time_s = gear.practical_s(longest, chosen.shot, remote) if exposure is None else exposure
    choice = DepthChoice(
        sky_mag=SKY_BRIGHTNESS.value if sky is None else sky,
        noise_area_px=NOISE_AREA_PX if noise_area is None else noise_area,
    )
    count = STACK_FRAMES if frames is None and noise is None and depth is None else frames
    share = None if noise is None else noise / 100
    plan = plan_stack(
        chosen.shot, time_s, pointing, latitude, StackWish(count, share, depth), gap, choice
    )
    if as_json:
        print_json(stack_data(plan))
    else:
        print("\n".join([*stack_lines(plan), "", *chosen.notes]))


def _there(
    at: str | None,
    zone: str | None,
    height: float | None,
    horizon: str | None,
    bench: Path,
    date: str | None,
    time: str | None,
    needed: bool,
) -> tuple[Where | None, datetime | None]:
    """Place and moment, where they are known; the place is asked for only when it is needed."""
    from nightglass.almanac.night import nights
    from nightglass.plan import aim, dates

    if at is None and not needed and doors.site_of(bench).place is None:
        return None, None
    there = doors.place_of(at, zone, height, horizon, bench)
    evening = dates.day(date) if date else doors.today(there)
    if time is not None:
        return there, aim.local_time(time, there.place, evening)
    (night,) = nights(there.place, evening, 1, horizon=there.horizon)
    return there, aim.best_time(night)


def _heights(text: str) -> tuple[float, float]:
    match = re.fullmatch(r"\s*(-?\d+(?:\.\d*)?)\s*\.\.\s*(-?\d+(?:\.\d*)?)\s*", text)
    if not match:
        raise ValueError(
            f'--heights "{text}" are not two heights; write the lower and the upper, like -5..60'
        )
    return float(match[1]), float(match[2])
