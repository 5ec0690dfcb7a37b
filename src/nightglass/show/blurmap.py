"""Where the blur of a zoom jumps: one position clearly worse than those beside it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from statistics import median

from nightglass.verdict.records import Worth

JUMP_RATIO = 1.3
"""A zoom position jumps if it is this much more blurred than each one beside it. Chosen well
above the scatter of repeats (5 to 10 %), so that a slow rise along the zoom range is no jump."""

STEEPEST_SLOPE = 3.0
"""Blur falls on stopping down at most as f-number^-3 (spherical aberration; coma -2, defocus and
astigmatism -1): a neighbour measured only stopped down can't have been worse than that."""


@dataclass(frozen=True)
class ZoomJump:
    """A zoom position that is worse than its neighbours."""

    focal_mm: float
    ratio: float
    """At least this many times the more blurred neighbour, median over the f-numbers here."""


def zoom_jumps(worths: Sequence[Worth]) -> tuple[ZoomJump, ...]:
    """Return the zoom positions of one lens whose blur jumps, by focal length.

    worths: every measured setting of one lens on one body. A neighbour is compared at the same
    f-number; where it was not measured there, with the most that it can have there. A position
    at the end of the range has one neighbour; a lens of one focal length has no jumps.
    """
    blur: dict[float, dict[float, float]] = {}
    for worth in worths:
        by_stop = blur.setdefault(worth.setting.focal_mm, {})
        by_stop[worth.setting.f_number] = worth.lens_tightness_percent
    focals = sorted(blur)
    jumps = []
    for k, focal_mm in enumerate(focals):
        neighbours = [blur[focals[j]] for j in (k - 1, k + 1) if 0 <= j < len(focals)]
        ratios = [
            median(here / most_at(stop, beside) for stop, here in blur[focal_mm].items())
            for beside in neighbours
        ]
        if ratios and min(ratios) >= JUMP_RATIO:
            jumps.append(ZoomJump(focal_mm, min(ratios)))
    return tuple(jumps)


def most_at(f_number: float, blur_by_stop: Mapping[float, float]) -> float:
    """Return the most blur that a zoom position can have at an f-number, from where it was
    measured: as measured there, no more than wider open, and from stopped down no steeper than
    STEEPEST_SLOPE."""
    if f_number in blur_by_stop:
        return blur_by_stop[f_number]
    return min(
        blur * max(1.0, (stop / f_number) ** STEEPEST_SLOPE) for stop, blur in blur_by_stop.items()
    )
