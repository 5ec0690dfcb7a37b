"""Where the blur of a zoom jumps: one position clearly worse than those beside it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

from nightglass.verdict.records import Worth

JUMP_RATIO = 1.3
"""A zoom position jumps if it is this much more blurred than each one beside it. Chosen well
above the scatter of repeats (5 to 10 %), so that a slow rise along the zoom range is no jump."""


@dataclass(frozen=True)
class ZoomJump:
    """A zoom position that is worse than its neighbours."""

    focal_mm: float
    ratio: float
    """Blur here over the blur of the more blurred neighbour, median over shared f-numbers."""


def zoom_jumps(worths: Sequence[Worth]) -> tuple[ZoomJump, ...]:
    """Return the zoom positions of one lens whose blur jumps, by focal length.

    worths: every measured setting of one lens on one body. Compared are f-numbers that a position
    and a neighbour share. A position at the end of the range has one neighbour; a lens of one
    focal length has no jumps.
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
            median(blur[focal_mm][n] / beside[n] for n in shared)
            for beside in neighbours
            if (shared := [n for n in blur[focal_mm] if beside.get(n, 0) > 0])
        ]
        if ratios and len(ratios) == len(neighbours) and min(ratios) >= JUMP_RATIO:
            jumps.append(ZoomJump(focal_mm, min(ratios)))
    return tuple(jumps)
