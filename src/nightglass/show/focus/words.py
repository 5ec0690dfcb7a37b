"""What focus series say, in words: a sentence for each code."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from nightglass.bench.focus.records import (
    AxisTurn,
    FieldFault,
    LeftOut,
    PlaceSeries,
    PositionSource,
    SeriesFault,
    Tilt,
    Value,
    WavefrontFault,
)
from nightglass.gear.lens import LensSetting
from nightglass.show.words import f_number, focal

SOURCES: dict[PositionSource, str] = {
    PositionSource.MARKS: "focus_mark of bench.toml",
    PositionSource.TIME_ORDER: "no marks typed: frames are numbered by the camera's clock, and "
    "even steps are assumed",
    PositionSource.FILE_ORDER: "no marks typed: frames are numbered by file name, and even steps "
    "are assumed",
}
LEFT_OUT: dict[LeftOut, str] = {
    LeftOut.CLIPPED: "clipped: expose shorter",
    LeftOut.FAINT: "too faint for a size: expose longer",
    LeftOut.NO_STAR: "no star stands out",
    LeftOut.NO_MARK: "has no focus_mark, though others of its series have one",
    LeftOut.OUTLIER: "far off the curve of the others: moved, bumped, or another mark than typed",
}
FAULTS: dict[SeriesFault, str] = {
    SeriesFault.NO_FRAME: "no frame gives a size",
    SeriesFault.NEVER_VARIED: "all frames have one mark: focus was never moved",
    SeriesFault.TOO_FEW: "too few positions for a best focus: take 5 or more, some on either side",
    SeriesFault.NO_CHANGE: "the blur does not change with focus: take larger steps",
    SeriesFault.BEYOND_LOWEST: "all frames lie on one side: best focus lies below {bound}",
    SeriesFault.BEYOND_HIGHEST: "all frames lie on one side: best focus lies above {bound}",
    SeriesFault.NO_CURVE: "the sizes follow no curve through focus: check the marks and the order",
}
TURNS: dict[AxisTurn, str] = {
    AxisTurn.TURNS: "the long axis turns by about 90 degrees through focus: astigmatism",
    AxisTurn.STAYS: "the long axis keeps its direction through focus",
    AxisTurn.UNKNOWN: "the turn of the long axis can't be told",
}
FIELD_FAULTS: dict[FieldFault, str] = {
    FieldFault.ONE_PLACE: "fewer than two places have a best focus: nothing to compare over the "
    "frame",
    FieldFault.ORDER_DIFFERS: "no marks typed and unequal numbers of frames: the places can't be "
    "compared",
    FieldFault.ONE_RADIUS: "all places lie equally far from the centre: curvature can't be told",
}
WAVEFRONT_FAULTS: dict[WavefrontFault, str] = {
    WavefrontFault.TOO_FEW: "no wavefront: 5 positions and a best focus are needed",
    WavefrontFault.OFF_CENTRE: "no wavefront: not attempted off the centre, where the lens may cut "
    "off its opening",
    WavefrontFault.MISFIT: "no wavefront: low-order terms do not make these spots",
}
DIRECTIONS: dict[str | None, str] = {
    "near": "marks run toward near",
    "infinity": "marks run toward infinity",
    None: "only coma has a sign: say which way the marks run with --towards near or infinity, or "
    "with focus_marks_toward of the lens in bench.toml",
}
"""Which way the positions run, and what that does to signs."""
TERMS = {5: "astigmatism (45 degrees)", 6: "astigmatism (0 degrees)", 7: "coma (down)",
         8: "coma (right)", 11: "spherical"}  # fmt: skip
"""Noll numbers in words."""
SIDES = ("right", "bottom right", "bottom", "bottom left", "left", "top left", "top", "top right")
"""Every 45 degrees from the right, as the frame lies."""
CODES: tuple[tuple[str, Mapping[Any, str]], ...] = (
    ("`position_source` of a place", SOURCES),
    ("`left_out` of a frame", LEFT_OUT),
    ("`fault` of a place", FAULTS),
    ("`turn` of `astigmatism`", TURNS),
    ("`fault` of `wavefront`", WAVEFRONT_FAULTS),
    ("`fault`, `curvature_fault` of a field", FIELD_FAULTS),
)
"""Every code with its words, as the glossary lists them."""


def setting_words(setting: LensSetting) -> str:
    """Return a setting as the person says it, once where the lens's name has the numbers."""
    mark = f"{setting.focal_mm:g} mm"
    zoom = "" if mark in setting.lens else f" at {focal(setting.focal_mm)}"
    return f"{setting.lens}{zoom}, {f_number(setting.f_number)}"


def fault_words(place: PlaceSeries) -> str:
    """Return why a place has no best focus. Raises ValueError for one that has."""
    if place.fault is None:
        raise ValueError(f"{place.place} has a best focus: there is no fault to word")
    bound = "" if place.bound is None else position_words(place, place.bound)
    return FAULTS[place.fault].format(bound=bound)


def position_words(place: PlaceSeries, position: float) -> str:
    """Return "mark 3.4", or "frame 3.4" where frames are numbered."""
    return f"{unit(place)} {position:.4g}"


def unit(place: PlaceSeries) -> str:
    """Return what positions count."""
    return "mark" if place.position_source is PositionSource.MARKS else "frame"


def tilt_words(tilt: Tilt, what: str = "mark") -> str:
    """Return whether the plane of best focus is tilted; what: that positions count."""
    size = f"{value_words(tilt.marks)} {what}s"
    chance = "under 0.1 %" if tilt.chance < 0.001 else f"{100 * tilt.chance:.1f} %"
    if not tilt.found:
        return f"no tilt of the plane of focus found (corner less centre {size})"
    side = SIDES[round(tilt.toward_degrees.value / 45) % 8]
    angle = "" if tilt.plane_degrees is None else f", {value_words(tilt.plane_degrees)} degrees"
    return (
        f"the plane of focus is tilted{angle}: toward the {side} best focus lies {size} higher at "
        f"the corner than at the centre (by chance in {chance} of straight ones): lens, mount or "
        "sensor"
    )


def value_words(value: Value, digits: int | None = None) -> str:
    """Return a number with its error, both to the error's second digit."""
    places = _digits(value.err) if digits is None else digits
    return f"{value.value:.{places}f} +- {value.err:.{places}f}"


def bound_words(bound: float, best: Value) -> str:
    """Return where the depth of focus ends, as finely as the best focus is known."""
    return f"{bound:.{_digits(best.err)}f}"


def _digits(err: float) -> int:
    if not err > 0:
        return 2
    places = 0
    while places < 4 and err * 10**places < 1:
        places += 1
    return min(places + 1, 4) if err < 10 else 0


def sure(value: Value, times: float = 3.0) -> bool:
    """Return whether a difference stands out of its error."""
    return abs(value.value) > times * value.err


def listed(names: Sequence[str]) -> str:
    """Return names in a row: "a, b and c"."""
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} and {names[-1]}"
