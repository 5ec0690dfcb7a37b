"""A stack plan as lines, as plain data and as the field card's line."""

from __future__ import annotations

import math
from typing import Any

from nightglass.plan.codes import StackRemark
from nightglass.plan.stack import StackPlan
from nightglass.plan.wished_stack import WishedStack
from nightglass.show.card.record import StackLine
from nightglass.show.columns import Facts, Part, lines_of
from nightglass.show.iso_words import read_noise_words
from nightglass.show.plan.caution_words import caution_data, short_cautions
from nightglass.show.plan.frame_words import gear_note_words, shot_text


def stack_lines(planned: WishedStack, width: int | None = None) -> list[str]:
    """Return the plan as lines; width: of the terminal, None for a file."""
    return list(lines_of(stack_parts(planned), width))


def stack_parts(planned: WishedStack) -> list[Part]:
    """Return frames, interval, time, when more frames stop helping, and how gear was found."""
    plan = planned.stack
    return [
        f"{shot_text(plan.shot)}: {plan.frames} frames of {plan.exposure_s:.1f} s (true time)",
        "",
        _facts(plan),
        *(f"  {remark_words(remark, plan)}" for remark in plan.remarks),
        "  Dark frames: none in the camera; ten afterwards, same time and ISO, lens capped.",
        *(f"  {gear_note_words(note)}" for note in planned.notes),
        "",
        *short_cautions(),
    ]


def _facts(plan: StackPlan) -> Facts:
    one = plan.one
    useful = "all night" if math.isinf(plan.useful_s) else f"{plan.useful_s / 60:.0f} min"
    noise = read_noise_words(one.read_noise, one.iso)
    return Facts(
        (
            (
                "interval",
                f"{plan.interval_s:.0f} s on the remote (true exposure and {plan.gap_s:g} s gap)",
            ),
            ("in all", f"{plan.total_s / 60:.1f} min"),
            (
                "noise",
                f"{100 * plan.noise_share:.0f} % of one frame's: {plan.stops:.1f} stops more "
                f"light, {plan.stops / 2:.1f} stops less noise",
            ),
            ("depth", f"V {plan.limiting_mag:.1f} at SNR 5; one frame V {one.limiting_mag:.1f}"),
            (
                "common field",
                f"{100 * plan.common_share:.0f} % of the frame at the end; 80 % for {useful}",
            ),
            (
                "sky and noise",
                f"{one.sky_e:.0f} electrons of sky per sample, read noise {one.read_noise_e:.1f} "
                f"({noise})",
            ),
        )
    )


def remark_words(remark: StackRemark, plan: StackPlan) -> str:
    """Return what to mind with a stack."""
    after = f"under 80 % is shared after {plan.useful_s / 60:.0f} min ({plan.useful_frames} frames)"
    match remark:
        case StackRemark.MORE_LIGHT:
            deeper = plan.limiting_mag - plan.one.limiting_mag
            return (
                f"{plan.frames} frames hold {plan.stops:.1f} stops more light than one: noise "
                f"{100 * plan.noise_share:.0f} % of one frame's, {deeper:.2f} mag deeper. Twice as "
                "many bring 0.38 mag more."
            )
        case StackRemark.WILL_DRIFT:
            return f"Stars drift out of the common field: {after}."
        case StackRemark.HAS_DRIFTED:
            return f"Stars have drifted out of the common field: {after}."
        case StackRemark.READ_NOISE:
            return (
                "Read noise lengthens each frame's noise by "
                f"{plan.one.read_noise_lengthens_percent:.0f} %: fewer, longer frames would do "
                "better where the trail allows."
            )
        case StackRemark.LAND_SMEARS:
            return (
                "Aligned on the stars the land smears over "
                f"{plan.drift_percent:.1f} % of picture height: take its frames apart and put them "
                "together later."
            )


def stack_data(planned: WishedStack) -> dict[str, Any]:
    """Return the plan as a dictionary; a stack useful all night has None for its end."""
    plan = planned.stack
    return {
        "frames": plan.frames,
        "exposure_s": plan.exposure_s,
        "interval_s": plan.interval_s,
        "total_s": round(plan.total_s, 1),
        "noise_share": round(plan.noise_share, 4),
        "stops": round(plan.stops, 3),
        "limiting_mag": round(plan.limiting_mag, 2),
        "one_frame_limiting_mag": round(plan.one.limiting_mag, 2),
        "common_share": round(plan.common_share, 3),
        "useful_s": None if math.isinf(plan.useful_s) else round(plan.useful_s),
        "useful_frames": plan.useful_frames,
        "drift_percent": round(plan.drift_percent, 3),
        "sky_e": round(plan.one.sky_e, 2),
        "read_noise_e": plan.one.read_noise_e,
        "remarks": list(plan.remarks),
        "gear": [{"code": note.code, **note.values} for note in planned.notes],
        "cautions": caution_data(),
    }


def stack_line(plan: StackPlan) -> StackLine:
    """Return the stack's line for the field card."""
    return StackLine(frames=plan.frames, dark_frames=False, interval_s=plan.interval_s)
