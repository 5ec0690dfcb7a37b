"""The watch: for each frame as it lands, which line of the plan it is, how good, and what next."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from nightglass.bench.assign import NotUsed, belongs_to, of_its_body
from nightglass.bench.combined.sightings import Sighting, sightings_on_record
from nightglass.bench.store.rows import FrameOnRecord
from nightglass.bench.store.store import Store, open_store
from nightglass.gear.benchfile import BenchFile
from nightglass.gear.lens import LensSetting
from nightglass.shoot.codes import FrameWord
from nightglass.shoot.exposures import exposure, shorter_step, step_for, trials
from nightglass.shoot.judging import Judged, judge_all, paths_again
from nightglass.shoot.matching import (
    NOTHING_PLANNED,
    Filled,
    Next,
    fill,
    next_frame,
    shot_order,
)
from nightglass.shoot.plan import distance_of, gear_stamp
from nightglass.shoot.plan_on_record import last_plan
from nightglass.shoot.records import Aim, BenchPlan, Exposure, Line
from nightglass.shoot.repeats_needed import GUESS_PERCENT


@dataclass(frozen=True)
class Session:
    """Everything on record, held against the plan."""

    frames: Mapping[str, FrameOnRecord]
    sightings: Mapping[str, Sighting]
    judged: Mapping[str, Judged]
    filled: Filled
    next: Next | None
    next_aim: Aim | None
    next_exposure: Exposure | None
    bench: BenchFile
    """As seen by the body of the plan."""


@dataclass(frozen=True)
class FrameSaid:
    """What is said of one frame."""

    path: str
    words: tuple[FrameWord, ...]
    reason: str | None = None
    """Why it can't be used, as the measuring or bench.toml says."""
    setting: LensSetting | None = None
    place: str = ""
    line: Line | None = None
    number: int | None = None
    """Which frame of its line."""
    length_px: float | None = None
    width_px: float | None = None
    ee50_px: float | None = None
    length_percent: float | None = None
    peak_share: float | None = None
    at_limit: bool = False
    compared_with: int = 0
    size_times: float | None = None
    expose: Exposure | None = None
    """What to set for this place where the peak is off."""

    @property
    def again(self) -> bool:
        """Whether the frame is to be shot again."""
        return Judged(self.words).again


def session(store: Store, bench: BenchFile, plan: BenchPlan | None) -> Session:
    """Return where a session stands, without a plan only what is said of its frames.

    Frames of another body than the plan's are no part of it. Raises StoreError.
    """
    bench = as_planned(bench, plan)
    seen = shot_order(sightings_on_record(store, bench))
    scatter_percent = GUESS_PERCENT if plan is None else plan.precision.scatter_percent
    judged = judge_all(seen, scatter_percent / 100)
    filled = NOTHING_PLANNED if plan is None else fill(plan, seen, paths_again(judged))
    coming = None if plan is None else next_frame(plan, filled.counts)
    aim = step = None
    if plan is not None and coming is not None:
        line = coming.line
        spaced = distance_of(plan, line.setting.lens, line.setting.focal_mm)
        aim = next((a for a in spaced.aims if a.place == line.place), None)
        step = exposure(line.setting, line.place, trials(seen), bench.body)
    return Session(
        {frame.path: frame for frame in store.frames()},
        {sighting.frame.path: sighting for sighting in seen},
        judged,
        filled,
        coming,
        aim,
        step,
        bench,
    )


def as_planned(bench: BenchFile, plan: BenchPlan | None) -> BenchFile:
    """Return a bench as seen by the body that a plan is for."""
    if plan is None or plan.body.name not in [body.name for body in bench.bodies]:
        return bench
    return bench.on_body(plan.body.name)


def frame_said(path: str, now: Session) -> FrameSaid:
    """Return what is said of a frame that is on record."""
    frame = now.frames.get(path)
    if frame is None:
        return FrameSaid(path, (FrameWord.NOT_READ,))
    if frame.state == "duplicate":
        return FrameSaid(path, (FrameWord.SAME_AS_ANOTHER,), frame.reason)
    if frame.state == "refused":
        lost = frame.width_px is not None
        word = FrameWord.LOST if lost else FrameWord.NOT_READ
        return FrameSaid(path, (word,), frame.reason)
    sighting = now.sightings.get(path)
    if sighting is None:
        belongs = of_its_body(belongs_to(frame, now.bench), now.bench)
        if isinstance(belongs, NotUsed):
            return FrameSaid(path, (FrameWord.NOT_USED,), belongs.reason)
        word = FrameWord.NOT_USED if belongs.series is None else FrameWord.IN_SERIES
        return FrameSaid(path, (word,))
    return _said(path, sighting, now, now.bench)


def said_of_all(bench: BenchFile) -> tuple[FrameSaid, ...]:
    """Return what is said of every frame on record, in the order of their names.

    The plan made last counts, if there is one; frames of other bodies than its own are judged
    among themselves. Raises StoreError.
    """
    store = open_store(bench)
    try:
        now = session(store, bench, last_plan(store))
        others = [
            session(store, now.bench.on_body(body.name), None) for body in now.bench.other_bodies
        ]
    finally:
        store.close()
    own = {path: one for one in (*others, now) for path in one.sightings}
    return tuple(
        frame_said(path, own.get(path, now))
        for path, frame in now.frames.items()
        if not frame.missing
    )


def _said(path: str, sighting: Sighting, now: Session, bench: BenchFile) -> FrameSaid:
    spot, judged, filled = sighting.spot, now.judged[path], now.filled
    words = list(judged.words)
    if path in filled.no_line:
        words.append(FrameWord.NO_LINE)
    if path in filled.extra:
        words.append(FrameWord.EXTRA)
    height = sighting.frame.height_px or bench.body.height_px
    width = sighting.frame.width_px or bench.body.width_px
    length = spot.length_px
    return FrameSaid(
        path=path,
        words=tuple(words),
        setting=sighting.belongs.setting,
        place=sighting.place,
        line=filled.line_of.get(path),
        number=filled.number_of.get(path),
        length_px=length,
        width_px=spot.width_px,
        ee50_px=spot.ee50_px,
        length_percent=None if length is None else 100 * length / min(height, width),
        peak_share=spot.peak_share,
        at_limit="at limit" in spot.flags,
        compared_with=judged.compared_with,
        size_times=judged.size_times,
        expose=_better_exposure(sighting, judged.words, bench),
    )


def _better_exposure(
    sighting: Sighting, words: Sequence[FrameWord], bench: BenchFile
) -> Exposure | None:
    time, peak = sighting.belongs.exposure_s, sighting.spot.peak_share
    if time is None:
        return None
    if FrameWord.CLIPPED in words:
        return shorter_step(time, bench.body)
    off = {FrameWord.FAINT, FrameWord.BRIGHT, FrameWord.DIM} & set(words)
    return step_for(time, peak, bench.body) if off and peak is not None and peak > 0 else None


def plan_is_old(plan: BenchPlan, bench: BenchFile) -> bool:
    """Whether bench.toml says other gear, places or limits than the plan was made from."""
    return plan.gear_stamp != gear_stamp(as_planned(bench, plan))
