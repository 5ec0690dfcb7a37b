"""Words for the codes of the bench plan and the watch, and for its quantities."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from nightglass.shoot.codes import (
    AimProblem,
    CutCode,
    DistanceFrom,
    DistanceProblem,
    ExposureSource,
    FrameWord,
    Role,
    ScatterSource,
)
from nightglass.shoot.records import Aim, Exposure, Precision
from nightglass.show.words import NOT_TESTED, seconds

CENTRE_RADIUS = 0.05
"""Nearer to the centre no place needs an aim."""
ROLES = {
    Role.MEASURE: "measure",
    Role.REFERENCE_START: "reference lens, start",
    Role.REFERENCE_MIDDLE: "reference lens, middle",
    Role.REFERENCE_END: "reference lens, end",
}
DISTANCE_FROM = {
    DistanceFrom.STATED: "as you said",
    DistanceFrom.ROOM: "the farthest that leaves room to stand back",
    DistanceFrom.ASSUMED: "assumed: say distance_m or room_m in bench.toml",
}
DISTANCE_PROBLEMS = {
    DistanceProblem.ROOM_TOO_SHORT: "can't be tested in this room: the source's image is over half "
    "a pixel",
    DistanceProblem.SOURCE_TOO_LARGE: "the source's image is over half a pixel at this distance",
    DistanceProblem.NO_STAND_BACK: "the room is too short to stand back for every place",
}
AIM_PROBLEMS = {
    AimProblem.NOT_SHOWN: "the lens shows nothing there",
    AimProblem.BEHIND_THE_PLANE: "too far off the axis to stand in the plane of focus",
}
SCATTER_SOURCES = {
    ScatterSource.RECORD: "from your repeats on record",
    ScatterSource.STATED: "as you said",
    ScatterSource.GUESS: "a guess: no repeats on record yet",
}
EXPOSURE_SOURCES = {
    ExposureSource.SAME: "from a frame of this setting and place",
    ExposureSource.SCALED: "from another setting of this lens: check the first frame",
    ExposureSource.CLIPPED: "shorter than what clipped",
    ExposureSource.UNKNOWN: "try: no frame of this lens yet",
}
CUT_MEANINGS = {
    CutCode.REPEATS: "fewer repeats: smaller differences are ties",
    CutCode.F_NUMBERS: "fewer f-numbers: what stopping down further gains is not tested",
    CutCode.ZOOM_MIDDLES: "no zoom position between the ends: not tested there",
    CutCode.ZOOM_LONG_ENDS: "zooms at the short end only: not tested elsewhere",
    CutCode.PLACES: "fewer places: a bad side of the lens can be missed",
    CutCode.REFERENCE_ROUNDS: "fewer reference frames: only a large drift shows",
    CutCode.LENSES: "lenses left out: not tested",
}
FRAME_WORDS = {
    FrameWord.GOOD: "good",
    FrameWord.CLIPPED: "shoot again: clipped",
    FrameWord.FAINT: "shoot again: too faint",
    FrameWord.OUT_OF_FOCUS: "shoot again: out of focus",
    FrameWord.MOVED: "shoot again: drawn out one way, the camera moved",
    FrameWord.LOST: "shoot again: no star found",
    FrameWord.SHARPER_THAN_BEFORE: "sharper than the frames before: they may be out of focus",
    FrameWord.BRIGHT: "peak over 70 %",
    FrameWord.DIM: "peak under 40 %",
    FrameWord.ONE_PIXEL_PLACE: "on the same pixels as a frame before: nudge the camera",
    FrameWord.NOT_COMPARED: "first frame here: nothing yet to compare its focus with",
    FrameWord.NO_LINE: "fits no line of the plan",
    FrameWord.EXTRA: "more than the plan asks for",
    FrameWord.IN_SERIES: "belongs to a series, no line of the plan",
    FrameWord.NOT_USED: "not used",
    FrameWord.NOT_READ: "can't be read",
    FrameWord.SAME_AS_ANOTHER: "a copy of another frame",
}

CODE_WORDS: tuple[tuple[str, Mapping[Any, str]], ...] = (
    ("`role`", ROLES),
    ("`distance_from`", DISTANCE_FROM),
    ("`problem` of a distance", DISTANCE_PROBLEMS),
    ("`problem` of an aim", AIM_PROBLEMS),
    ("`scatter_source`", SCATTER_SOURCES),
    ("`exposure_from`, `source` of an exposure", EXPOSURE_SOURCES),
    ("`code` of a cut", CUT_MEANINGS),
    ("`words` of a frame", FRAME_WORDS),
)  # fmt: skip
"""Every code with its meaning, for the glossary."""


def hours_words(minutes: float) -> str:
    """Return minutes as 45 min or 5 h 51 min."""
    whole = round(minutes)
    if whole < 60:
        return f"{whole} min"
    return f"{whole // 60} h {whole % 60} min" if whole % 60 else f"{whole // 60} h"


def metres(value: float) -> str:
    """Return a distance with a step that a tape measure shows: 9.85 m, 12.4 m, 140 m."""
    if value < 10:
        return f"{value:.2f} m"
    return f"{value:.1f} m" if value < 100 else f"{value:.0f} m"


def small_percent(value: float) -> str:
    """Return a share such as 6.6 %, 12 %."""
    return f"{value:.1f} %" if value < 10 else f"{value:.0f} %"


def count_words(number: int, one: str) -> str:
    """Return "1 frame" or "3 frames"."""
    return f"{number} {one}" if number == 1 else f"{number} {one}s"


def turn_words(aim: Aim) -> str:
    """Return how the camera turns from the star in its centre: 33.9 right, 25.2 down."""
    if aim.field_radius <= CENTRE_RADIUS:
        return "star in the centre"
    if aim.pan_degrees is None or aim.tilt_degrees is None:
        return AIM_PROBLEMS[aim.problem] if aim.problem else NOT_TESTED
    pan = side(aim.pan_degrees, "right", "left")
    tilt = side(aim.tilt_degrees, "up", "down")
    return ", ".join(part for part in (pan, tilt) if part)


def side(degrees: float, plus: str, minus: str) -> str:
    """Return an angle with its side; empty for none."""
    if abs(degrees) < 0.05:
        return ""
    return f"{abs(degrees):.1f}\N{DEGREE SIGN} {plus if degrees > 0 else minus}"


def exposure_words(exposure: Exposure) -> str:
    """Return the step to set: 1/4 s at ISO 100; or that it has to be tried."""
    if exposure.marked_s is None:
        return "try"
    iso = f" at ISO {exposure.iso}" if exposure.iso else ""
    mark = "~" if exposure.source is not ExposureSource.SAME else ""
    return f"{mark}{seconds(exposure.marked_s)}{iso}"


def precision_sentences(precision: Precision) -> list[str]:
    """Return what the repeats tell, and where the scatter comes from."""
    source = SCATTER_SOURCES[precision.scatter_source]
    if precision.scatter_dof is not None:
        source = f"{source}, {precision.scatter_dof} degrees of freedom"
    scatter = f"if one frame scatters by {small_percent(precision.scatter_percent)} ({source})"
    lines = []
    if precision.needed is None:
        lines.append(
            f"To tell {precision.tell_percent:g} % apart takes more than 30 repeats {scatter}: "
            "find out what scatters first, focus above all."
        )
    elif precision.repeats < precision.needed:
        lines.append(
            f"To tell {precision.tell_percent:g} % apart takes {precision.needed} repeats "
            f"{scatter}; this plan has {precision.repeats}."
        )
    else:
        lines.append(
            f"{precision.repeats} repeats with refocusing find a difference of "
            f"{precision.tell_percent:g} % in 4 of 5 cases, {scatter}."
        )
    lines.append(ties_sentence(precision))
    return lines


def ties_sentence(precision: Precision) -> str:
    """Return from where a difference counts."""
    if math.isinf(precision.counts_from_percent):
        return "One frame of each tells no difference at all: nothing is known of its scatter."
    return (
        f"Two means that differ by less than {small_percent(precision.counts_from_percent)} are "
        "a tie."
    )
