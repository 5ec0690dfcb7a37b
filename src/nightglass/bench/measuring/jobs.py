"""What a worker does with one file: open, measure, hand back plain facts."""

from __future__ import annotations

import dataclasses
import importlib
import os
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from nightglass.bench.bodies import known_gain, seen_in_frame
from nightglass.frame.errors import FrameError
from nightglass.frame.record import Frame, Metadata
from nightglass.gear.body import Body
from nightglass.spot.record import Measured, Spot

MEASURER = "nightglass.spot.measure:measure_frame"
OPENER = "nightglass.frame.open:open_frame"
SETTLE_S = 1.0
"""A file that can't be read is looked at again after this time: a copy may still be running."""


@dataclass(frozen=True)
class Job:
    """One file to measure."""

    path: str
    """Below frames/."""
    file: str
    """On disk."""
    size_bytes: int
    modified_ns: int
    near_px: tuple[float, float] | None = None
    iso: int | None = None
    """As typed in bench.toml; None: as the file says."""
    bodies: tuple[Body, ...] = ()
    """Of the bench: they know electrons per count."""
    body: str | None = None
    """As typed in bench.toml; None: as the file says."""


@dataclass(frozen=True)
class Outcome:
    """What became of a job: a measurement, a refusal with its reason, or a file that changed."""

    job: Job
    measured: Measured | None = None
    refused: str | None = None
    try_again: bool = False
    changed: bool = False
    content_hash: str = ""
    kind: str | None = None
    width_px: int | None = None
    height_px: int | None = None
    crop_width_px: int | None = None
    crop_height_px: int | None = None
    metadata: Metadata = field(default_factory=Metadata)
    notes: tuple[str, ...] = ()
    levels: dict[str, Any] | None = None
    gain_e_per_count: float | None = None
    """Used for the error bars; None: the measurer's own assumption."""


Measure = Callable[..., Measured]
Open = Callable[[str], Frame]


def load(dotted: str) -> Callable[..., Any]:
    """Return the function that "package.module:name" names, so that a worker can find it too."""
    module, _, name = dotted.partition(":")
    function: Callable[..., Any] = getattr(importlib.import_module(module), name)
    return function


def work(job: Job, opener: Open, measure: Measure) -> Outcome:
    """Open and measure one file; a file that changes meanwhile is left for the next run."""
    try:
        frame = opener(job.file)
    except FrameError as error:
        time.sleep(SETTLE_S if _younger_than(job, 10 * SETTLE_S) else 0.0)
        if _changed(job):
            return Outcome(job, changed=True)
        reason = f"{error.cause}; {error.remedy}"
        return Outcome(job, refused=reason, try_again=not os.access(job.file, os.R_OK))
    if _changed(job):
        return Outcome(job, changed=True)
    iso = job.iso or frame.metadata.iso
    gain = known_gain(seen_in_frame(frame), iso, job.bodies, job.body)
    measured = measure(frame, near=job.near_px, gain_e_per_count=gain)
    refused = _nothing_measured(measured)
    return Outcome(
        job,
        measured=measured if refused is None else None,
        refused=refused,
        content_hash=frame.content_hash,
        kind=frame.kind,
        width_px=frame.width_px,
        height_px=frame.height_px,
        crop_width_px=frame.crop_px[3] if frame.crop_px else None,
        crop_height_px=frame.crop_px[2] if frame.crop_px else None,
        metadata=frame.metadata,
        notes=frame.notes,
        levels=_levels(frame),
        gain_e_per_count=gain,
    )


def _changed(job: Job) -> bool:
    try:
        now = os.stat(job.file)
    except OSError:
        return True
    return (now.st_size, now.st_mtime_ns) != (job.size_bytes, job.modified_ns)


def _younger_than(job: Job, seconds: float) -> bool:
    return time.time() - job.modified_ns / 1e9 < seconds


def _nothing_measured(measured: Measured) -> str | None:
    """The reason why a frame holds no star to measure, or None if it does."""
    if not measured.spots or all("lost" in spot.flags for spot in measured.spots):
        return (
            "no star stands out; check focus and exposure, or say where it is: "
            "near = [x, y] under [[frames]]"
        )
    if all("not a star" in spot.flags for spot in measured.spots):
        return (
            "only a hot pixel stands out; expose longer, or say where the star is: "
            "near = [x, y] under [[frames]]"
        )
    return None


def _levels(frame: Frame) -> dict[str, Any]:
    """The brightest samples per colour, for levels pooled over the frames of a body and ISO."""
    # Not at the top: the decoder's libraries are for workers, not for reading results.
    from nightglass.frame.levels import top_samples

    return dataclasses.asdict(top_samples(frame))


def main_spot(measured: Measured) -> Spot | None:
    """Return the green spot, or the grey one of a picture without colours."""
    for colour in ("green", "grey"):
        for spot in measured.spots:
            if spot.colour == colour:
                return spot
    return None
