"""Words for blur over f-numbers, and for lateral colour."""

from __future__ import annotations

from nightglass.bench.faults.colours import LEAST_PX, ColourFinding
from nightglass.bench.faults.stops import Cause, StopsFinding

CAUSES: dict[Cause, str] = {
    Cause.FIRST_POWER: "blur goes with 1 / f-number: astigmatism, curvature of field or focus "
    "error; only a focus series tells them apart",
    Cause.SECOND_POWER: "blur goes with 1 / f-number squared: coma",
    Cause.THIRD_POWER: "blur goes with 1 / f-number cubed: spherical aberration",
    Cause.CANT_TELL: "no power reaches a probability of 0.9",
    Cause.TOO_FEW: "fewer than two f-numbers, a stop apart, with blur over 5 px",
}
_NAMES: dict[Cause, str] = {
    Cause.FIRST_POWER: "astigmatism, curvature of field or focus (a focus series tells them apart)",
    Cause.SECOND_POWER: "coma",
    Cause.THIRD_POWER: "spherical aberration",
}
SHORT: dict[Cause, str] = {
    Cause.FIRST_POWER: "astigmatism, curvature or focus",
    Cause.SECOND_POWER: "coma",
    Cause.THIRD_POWER: "spherical aberration",
    Cause.CANT_TELL: "can't tell",
    Cause.TOO_FEW: "too few f-numbers",
}
HARDLY = 0.9
"""A stop that leaves more than this of the blur is not worth its light."""


def stops_words(found: StopsFinding) -> str:
    """Return whether stopping down helps and what is behind the blur; empty for too few."""
    if found.cause is Cause.TOO_FEW:
        return ""
    name = _NAMES.get(found.cause)
    behind = f"behind it: {name}" if name else "what is behind it can't be told from the f-numbers"
    return f"{_helps(found)}; {behind}{_focus(found)}"


def colour_words(found: ColourFinding) -> str:
    """Return how far the colours lie apart."""
    parts = [
        f"{name} lies {value:.1f} px"
        for name, value in (("red", found.red_px), ("blue", found.blue_px))
        if value is not None and value > LEAST_PX
    ]
    return f"{' and '.join(parts)} from green: stopping down does not help that"


def left_words(found: StopsFinding) -> str:
    """Return what each stop leaves of the blur, for a table."""
    if found.left_per_stop is None or found.left_low is None or found.left_high is None:
        return ""
    percents = (100 * v for v in (found.left_per_stop, found.left_low, found.left_high))
    return "{:.0f} % ({:.0f} to {:.0f} %)".format(*percents)


def slope_words(found: StopsFinding) -> str:
    """Return the slope with its interval, for a table."""
    if found.slope is None or found.slope_low is None or found.slope_high is None:
        return ""
    return f"{found.slope:.1f} ({found.slope_low:.1f} to {found.slope_high:.1f})"


def _helps(found: StopsFinding) -> str:
    left, high = found.left_per_stop or 1.0, found.left_high or 1.0
    if left > HARDLY:
        return f"stopping down hardly helps: each stop leaves {left_words(found)} of the blur"
    sure = "" if high < 1 else ", if at all"
    return f"stopping down helps{sure}: each stop leaves {left_words(found)} of the blur"


def _focus(found: StopsFinding) -> str:
    if found.refocused:
        return ""
    if found.refocused is None:
        return "; it is not said whether each f-number was refocused (refocused in bench.toml)"
    return "; not refocused at each f-number, so a shift of focus is in it"
