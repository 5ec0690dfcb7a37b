"""What a frame that can't be solved looks like: hints from its samples and its points of light."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from nightglass.frame.record import Frame
from nightglass.optics.extent import GAUSSIAN_LENGTH
from nightglass.sky.stars.find import CLIPPED_SHARE, Found

CLEAR_SNR = 25.0
LEAST_CLEAR = 8
LEAST_DISC_SIGMA_PX = 2.5
"""Of the filter that fits the frame's stars: discs of 10 px."""
DISC_LENGTH = 0.805
"""Central 90 % of an even disc along a line, over its diameter."""
DISC_RATIO = 1.5
LINE_RATIO = 3.0
"""Length over width from which half of the points being so means trails."""
TRAILS = "star trails; a frame of seconds, not of many minutes, can be solved"
DISCS = "the lens is far out of focus; focus on a star"
CLIPPED_FRAME_SHARE = 0.002
"""Stars alone clip under a thousandth of a frame, hot pixels included."""


def looks(frame: Frame, found: Found) -> tuple[str, ...]:
    """Return what the frame seems to show instead of a sky of sharp stars; empty if unknown."""
    hints = []
    clipped = _clipped_share(frame)
    if clipped > CLIPPED_FRAME_SHARE:
        hints.append(
            f"{100 * clipped:.1f} % of the frame is clipped: the moon, a lamp or daylight is in it"
        )
    stars = found.stars
    clear = stars.snr >= CLEAR_SNR
    count = int(np.count_nonzero(clear))
    if count < LEAST_CLEAR:
        hints.append(
            f"only {count} points of light stand out clearly: cloud, haze, or a lens far out of "
            "focus"
        )
        return tuple(hints)
    ratios = stars.length_px[clear] / stars.width_px[clear]
    known = ratios[np.isfinite(ratios)]
    if known.size < LEAST_CLEAR:
        return tuple(hints)
    if np.median(known) > LINE_RATIO:
        length = float(np.nanmedian(stars.length_px[clear]))
        hints.append(f"most points are lines, {length:.0f} px and longer: {TRAILS}")
    elif found.filter_sigma_px > LEAST_DISC_SIGMA_PX and np.median(known) < DISC_RATIO:
        wide = GAUSSIAN_LENGTH * found.filter_sigma_px / DISC_LENGTH
        hints.append(f"the points of light are discs about {wide:.0f} px wide: {DISCS}")
    return tuple(hints)


def hopeless(hints: Sequence[str]) -> bool:
    """Return whether hints say that only another frame helps, nothing that is known of this one."""
    return any(hint.endswith((TRAILS, DISCS)) for hint in hints)


def _clipped_share(frame: Frame) -> float:
    rows, columns = frame.pattern.shape
    over = 0
    for row, column in np.ndindex(rows, columns):
        part = frame.samples[row::rows, column::columns]
        black, top = frame.black[row, column], frame.clipping[row, column]
        over += int(np.count_nonzero(part >= black + CLIPPED_SHARE * (top - black)))
    return over / frame.samples.size
