"""What a frame shows that can't be solved, by its samples and its points of light."""

from __future__ import annotations

import numpy as np

from nightglass.frame.record import Frame
from nightglass.optics.extent import GAUSSIAN_LENGTH
from nightglass.sky.codes import FrameNote, FrameNoteCode
from nightglass.sky.stars.find import CLIPPED_SHARE, Detections

CLEAR_SNR = 25.0
LEAST_CLEAR = 8
LEAST_DISC_SIGMA_PX = 2.5
"""Of the filter that fits the frame's stars: discs of 10 px."""
DISC_LENGTH = 0.805
"""Central 90 % of an even disc along a line, over its diameter."""
DISC_RATIO = 1.5
LINE_RATIO = 3.0
"""Length over width from which half of the points being so means trails."""
CLIPPED_FRAME_SHARE = 0.002
"""Stars alone clip under a thousandth of a frame, hot pixels included."""


def symptoms(frame: Frame, found: Detections) -> tuple[FrameNote, ...]:
    """Return what the frame seems to show instead of a sky of sharp stars; empty if unknown."""
    notes = []
    clipped = _clipped_share(frame)
    if clipped > CLIPPED_FRAME_SHARE:
        notes.append(FrameNote(FrameNoteCode.CLIPPED, clipped_share=clipped))
    stars = found.stars
    clear = stars.snr >= CLEAR_SNR
    count = int(np.count_nonzero(clear))
    if count < LEAST_CLEAR:
        notes.append(FrameNote(FrameNoteCode.FEW_POINTS, points=count))
        return tuple(notes)
    ratios = stars.length_px[clear] / stars.width_px[clear]
    known = ratios[np.isfinite(ratios)]
    if known.size < LEAST_CLEAR:
        return tuple(notes)
    if np.median(known) > LINE_RATIO:
        length = float(np.nanmedian(stars.length_px[clear]))
        notes.append(FrameNote(FrameNoteCode.TRAILS, length_px=length))
    elif found.filter_sigma_px > LEAST_DISC_SIGMA_PX and np.median(known) < DISC_RATIO:
        wide = GAUSSIAN_LENGTH * found.filter_sigma_px / DISC_LENGTH
        notes.append(FrameNote(FrameNoteCode.DISCS, length_px=wide))
    return tuple(notes)


def _clipped_share(frame: Frame) -> float:
    rows, columns = frame.pattern.shape
    over = 0
    for row, column in np.ndindex(rows, columns):
        part = frame.samples[row::rows, column::columns]
        black, top = frame.black[row, column], frame.clipping[row, column]
        over += int(np.count_nonzero(part >= black + CLIPPED_SHARE * (top - black)))
    return over / frame.samples.size
