"""One frame of the real sky, from samples to everything that it tells."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from nightglass.almanac.place import Place
from nightglass.frame.one_plane import one_plane
from nightglass.frame.record import Frame
from nightglass.optics.projection import Projection
from nightglass.sky.astrometry.circumstances import Circumstances, circumstances_of
from nightglass.sky.astrometry.codes import Advice
from nightglass.sky.astrometry.refine import Solution
from nightglass.sky.astrometry.solve import Hint, Unsolved, solve
from nightglass.sky.codes import FrameNote, FrameNoteCode
from nightglass.sky.developed import DevelopedCode, not_told, without_light
from nightglass.sky.photometry.conditions import Night, measure_night
from nightglass.sky.photometry.filtering import lacks_hot_pixels
from nightglass.sky.stars.find import Detections, find_stars
from nightglass.sky.symptoms import CLEAR_SNR, symptoms
from nightglass.sky.zones.motion import Motion, measure_motion

USUAL_WIDTHS_MM = (36.0, 23.5, 22.3, 17.3, 13.2)
"""Long sides of usual sensors, to turn a focal length into pixels where no pitch is known."""
ONLY_ANOTHER_FRAME = (FrameNoteCode.TRAILS, FrameNoteCode.DISCS)
"""Of such a frame nothing that is known of the camera helps to solve it."""


@dataclass(frozen=True)
class Observation:
    """What one frame gave; solution holds the reasons if it could not be solved.

    frame: in which stars were found; of three planes their mean.
    """

    file: str
    frame: Frame
    found: Detections
    solution: Solution | Unsolved
    motion: Motion | None
    """None where the frame is not solved or its exposure time is not known."""
    night: Night | None
    """None where the frame is not solved."""
    notes: tuple[FrameNote, ...]
    """Beside those of the file itself (frame.notes)."""
    pitch_um: float | None = None
    focal_mm: float | None = None
    """As given; None where nobody said."""
    circumstances: Circumstances | None = None
    """What place and time say; its solution is the frame's. None where it is not solved."""
    exposure_s: float | None = None
    """True seconds by which trails and light were judged."""
    developed: tuple[DevelopedCode, ...] = ()
    """What is not told because the frame has three planes."""


def observe(
    frame: Frame,
    pitch_um: float | None = None,
    focal_mm: float | None = None,
    projection: Projection | None = None,
    exposure_s: float | None = None,
    place: Place | None = None,
) -> Observation:
    """Return the stars, the aim, the camera and the motion of a frame.

    pitch_um, focal_mm, projection, exposure_s (true seconds): what is known; focal length and
    exposure come from the file's metadata where none is given. place: where it was taken; with
    the file's time the air is taken out of the camera. Aim and roll are catalogue directions
    (ICRS) with it or without. Of a frame with three planes (a developed picture, a linear raw)
    sizes are told but not comparable, and nothing of its light.
    """
    developed = not_told(frame)
    frame = one_plane(frame)
    found = find_stars(frame)
    hint = Hint(focals_px(frame, pitch_um, focal_mm), projection)
    solution = solve(found.stars, frame.width_px, frame.height_px, hint)
    seconds = exposure_s if exposure_s is not None else frame.metadata.exposure_true_s
    motion, night, circumstances = None, None, None
    notes: list[FrameNote] = []
    if isinstance(solution, Solution):
        circumstances = circumstances_of(found.stars, solution, frame.metadata, place)
        solution = circumstances.solution
        night = measure_night(frame, found, solution, seconds)
        night = without_light(night) if developed else night
        if seconds is None:
            notes.append(FrameNote(FrameNoteCode.NO_EXPOSURE))
        else:
            motion = measure_motion(frame, found, solution, seconds, year_of(frame))
        hot_pixels, samples = found.hot_pixels, frame.samples.size
        few = lacks_hot_pixels(hot_pixels, samples, seconds, _star_px(found))
        if few and not developed:
            code = FrameNoteCode.FEW_HOT_PIXELS
            notes.append(FrameNote(code, hot_pixels=hot_pixels, samples=samples))
    else:
        notes += symptoms(frame, found)
        if solution.tried and any(note.code in ONLY_ANOTHER_FRAME for note in notes):
            solution = replace(solution, advice=Advice.ANOTHER_FRAME)
    return Observation(
        frame.file, frame, found, solution, motion, night, tuple(notes), pitch_um, focal_mm,
        circumstances, seconds, developed,
    )  # fmt: skip


def _star_px(found: Detections) -> float:
    """Median length of the clear stars [px], trail in it; nan without any."""
    clear = (found.stars.snr >= CLEAR_SNR) & np.isfinite(found.stars.length_px)
    return float(np.median(found.stars.length_px[clear])) if np.any(clear) else math.nan


def year_of(frame: Frame) -> float:
    """Return the year of a frame for the pole of date; 2026 where no time is recorded."""
    taken = frame.metadata.taken_at
    return 2026.0 if taken is None else taken.year + taken.timetuple().tm_yday / 365.25


def focals_px(
    frame: Frame, pitch_um: float | None = None, focal_mm: float | None = None
) -> tuple[float, ...]:
    """Return focal lengths [px] to try first; several sensor sizes where the pitch is unknown.

    Raises ValueError for a pitch or a focal length of 0 or less.
    """
    for name, value in (("pitch_um", pitch_um), ("focal_mm", focal_mm)):
        if value is not None and not value > 0:
            raise ValueError(f"{name} is {value:g}; it must be above 0")
    focal = focal_mm if focal_mm is not None else frame.metadata.focal_mm
    if focal is None:
        return ()
    if pitch_um is not None:
        return (focal / pitch_um * 1000,)
    long_px = max(frame.width_px, frame.height_px)
    return tuple(focal * long_px / width for width in USUAL_WIDTHS_MM)
