"""A stack plan as lines, as plain data and as the field card's line."""

from __future__ import annotations

import math
from typing import Any

from nightglass.plan.stack import StackPlan
from nightglass.show.card.record import StackLine
from nightglass.show.iso_words import read_noise_words


def stack_lines(plan: StackPlan) -> list[str]:
    """Return frames, interval, time and when more frames stop helping."""
    useful = "all night" if math.isinf(plan.useful_s) else f"{plan.useful_s / 60:.0f} min"
    return [
        f"{plan.shot.text}: {plan.frames} frames of {plan.exposure_s:.1f} s (true time)",
        "",
        f"  interval       {plan.interval_s:.0f} s on the remote (true exposure and "
        f"{plan.gap_s:g} s gap)",
        f"  in all         {plan.total_s / 60:.1f} min",
        f"  noise          {100 * plan.noise_share:.0f} % of one frame's: {plan.stops:.1f} stops "
        f"more light, {plan.stops / 2:.1f} stops less noise",
        f"  depth          V {plan.limiting_mag:.1f} at SNR 5; one frame V "
        f"{plan.one.limiting_mag:.1f}",
        f"  common field   {100 * plan.common_share:.0f} % of the frame at the end; 80 % for "
        f"{useful}",
        f"  sky and noise  {plan.one.sky_e:.0f} electrons of sky per sample, read noise "
        f"{plan.one.read_noise_e:.1f} ({read_noise_words(plan.one.read_noise, plan.one.iso)})",
        *(f"  {words}" for words in plan.words),
        "  Dark frames: none in the camera; ten afterwards, same time and ISO, lens capped.",
        "",
        "Before you go",
        *(f"  - {c}" for c in plan.cautions),
    ]


def stack_data(plan: StackPlan) -> dict[str, Any]:
    """Return the plan as a dictionary; a stack useful all night has None for its end."""
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
        "words": list(plan.words),
        "cautions": list(plan.cautions),
    }


def stack_line(plan: StackPlan) -> StackLine:
    """Return the stack's line for the field card."""
    return StackLine(frames=plan.frames, dark_frames=False, interval_s=plan.interval_s)
