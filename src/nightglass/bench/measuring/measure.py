"""Measuring a bench folder: every result on record as it comes, nothing twice."""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from nightglass.bench.assign import NotUsed, belongs_to, unmatched_rules
from nightglass.bench.errors import BenchError
from nightglass.bench.files import FRAMES_FOLDER, Found, find_files
from nightglass.bench.measuring.jobs import MEASURER, OPENER, Outcome
from nightglass.bench.measuring.todo import Plan, plan_run
from nightglass.bench.measuring.workers import TIME_LIMIT_S, Workers
from nightglass.bench.skyframes import sky_names
from nightglass.bench.store.rows import FrameOnRecord
from nightglass.bench.store.store import Store, open_store
from nightglass.bench.study.listed import bring_all_up_to_date
from nightglass.gear.bag import read_bench_file
from nightglass.gear.benchfile import BenchFile

GROWS = "it changed while it was read; left for the next run"


@dataclass(frozen=True)
class Progress:
    """Where a run stands; total counts the files that have to be measured."""

    done: int
    total: int
    path: str = ""
    state: str = ""


@dataclass(frozen=True)
class MeasureReport:
    """What a run found and did; paths are below frames/, reasons say what to do."""

    files: int
    measured: tuple[str, ...]
    unchanged: int
    refused: tuple[tuple[str, str], ...]
    """Files that gave no measurement, of this run and on record from earlier ones."""
    not_used: tuple[tuple[str, str], ...]
    """Measured files that belong to no lens setting of bench.toml."""
    in_series: tuple[tuple[str, str], ...]
    """(file, series) of frames that belong to a study and take no part in the ranking."""
    duplicates: tuple[tuple[str, str], ...]
    """(file, the file that it repeats)"""
    left: tuple[tuple[str, str], ...]
    """Files that changed while they were read."""
    moved: tuple[tuple[str, str], ...]
    missing: tuple[str, ...]
    hints: tuple[str, ...]
    seconds: float


def measure_folder(
    folder: str | Path,
    *,
    workers: int | None = None,
    check: bool = False,
    on_progress: Callable[[Progress], None] | None = None,
    measurer: str = MEASURER,
    opener: str = OPENER,
    time_limit_s: float = TIME_LIMIT_S,
) -> MeasureReport:
    """Measure what is new or changed below frames/ of a bench folder; return what was done.

    Each result is on record in one transaction of its own as it comes: whatever ends the run,
    nothing is lost or doubled, and the next run goes on. workers: None for one on each core;
    check: compare every file on record by its whole content, not by size and time of change;
    measurer, opener: "package.module:name" of the functions that do the work. Raises
    BenchFileError, BenchError or StoreError, each one line that says what to do.
    """
    began = time.monotonic()
    bench = read_bench_file(folder)
    frames_folder = bench.folder / FRAMES_FOLDER
    if not frames_folder.is_dir():
        raise BenchError(f"{frames_folder}: no such folder; make it and copy the raw files there")
    found = find_files(frames_folder)
    store = open_store(bench)
    try:
        on_record = {frame.path: frame for frame in store.frames()}
        if not (found.files or found.unreadable or found.passed_over or on_record):
            raise BenchError(
                f"{frames_folder}: empty; copy the raw files there, then run measure again"
            )
        plan = plan_run(frames_folder, found, on_record, bench, check=check)
        keep_plan(store, plan, on_record)
        count = min(max(1, len(plan.jobs)), workers or cores())
        with Workers(count, measurer=measurer, opener=opener, time_limit_s=time_limit_s) as pool:
            outcomes = _run(store, plan, pool, on_progress or (lambda _: None))
        report = _report(store, bench, plan, outcomes, found, began)
        bring_all_up_to_date(store, bench)
        return report
    finally:
        store.close()


def keep_plan(store: Store, plan: Plan, on_record: dict[str, FrameOnRecord]) -> None:
    """Put on record what needs no measuring."""
    for file, old in plan.moved:
        store.change(old, path=file.path, modified_ns=file.modified_ns, missing=False)
    moved = {old for _, old in plan.moved}
    for path in plan.missing:
        if path not in moved and not on_record[path].missing:
            store.change(path, missing=True)
    for file in plan.unchanged:
        record = on_record[file.path]
        if record.missing or record.modified_ns != file.modified_ns:
            store.change(file.path, modified_ns=file.modified_ns, missing=False)
    for file, original, content_hash in plan.duplicates:
        store.keep(
            FrameOnRecord(
                path=file.path,
                content_hash=content_hash,
                fingerprint="",
                size_bytes=file.size_bytes,
                modified_ns=file.modified_ns,
                state="duplicate",
                reason=f"the same content as {original}: measured once",
                same_as=original,
            )
        )


def cores() -> int:
    """Return the number of cores that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def _run(
    store: Store, plan: Plan, pool: Workers, on_progress: Callable[[Progress], None]
) -> list[Outcome]:
    outcomes: list[Outcome] = []
    total = len(plan.jobs)
    on_progress(Progress(0, total))
    for outcome in pool.outcomes(plan.jobs):
        if not outcome.changed:
            keep_outcome(store, outcome, plan)
        # The stamps are on record; a thousand of them in memory serve nobody.
        outcomes.append(Outcome(outcome.job, refused=outcome.refused, changed=outcome.changed))
        state = "left" if outcome.changed else "refused" if outcome.refused else "measured"
        on_progress(Progress(len(outcomes), total, outcome.job.path, state))
    return outcomes


def keep_outcome(store: Store, outcome: Outcome, plan: Plan) -> None:
    """Put a measurement or a refusal on record. Raises StoreError."""
    store.keep(_on_record(outcome, plan), outcome.measured)


def _on_record(outcome: Outcome, plan: Plan) -> FrameOnRecord:
    job = outcome.job
    return FrameOnRecord(
        path=job.path,
        content_hash=outcome.content_hash,
        fingerprint=plan.fingerprints[job.path],
        size_bytes=job.size_bytes,
        modified_ns=job.modified_ns,
        state="measured" if outcome.refused is None else "refused",
        reason=outcome.refused,
        try_again=outcome.try_again,
        near_px=job.near_px,
        kind=outcome.kind,
        width_px=outcome.width_px,
        height_px=outcome.height_px,
        crop_width_px=outcome.crop_width_px,
        crop_height_px=outcome.crop_height_px,
        metadata=outcome.metadata,
        notes=outcome.notes,
        levels=outcome.levels,
        gain_e_per_count=outcome.gain_e_per_count,
    )


def _report(
    store: Store,
    bench: BenchFile,
    plan: Plan,
    outcomes: list[Outcome],
    found: Found,
    began: float,
) -> MeasureReport:
    frames = store.frames()
    refused = [(f.path, f.reason or "") for f in frames if f.state == "refused" and not f.missing]
    closed = [
        (
            "frames/" if path == "." else path,
            f"can't be read ({why}); change its permissions or copy it",
        )
        for path, why in (*found.unreadable, *plan.unreadable)
    ]
    passed = [(odd.path, odd.why) for odd in found.passed_over]
    not_used, in_series = _sorted_out(store, bench, frames)
    done = [outcome for outcome in outcomes if not outcome.changed and outcome.refused is None]
    return MeasureReport(
        files=len(plan.jobs) + len(plan.unchanged) + len(plan.duplicates) + len(plan.moved),
        measured=tuple(sorted(outcome.job.path for outcome in done)),
        unchanged=len(plan.unchanged),
        refused=tuple(sorted([*refused, *closed, *passed])),
        not_used=not_used,
        in_series=in_series,
        duplicates=tuple(
            (f.path, f.same_as or "") for f in frames if f.state == "duplicate" and not f.missing
        ),
        left=tuple(sorted((o.job.path, GROWS) for o in outcomes if o.changed)),
        moved=tuple((old, file.path) for file, old in plan.moved),
        missing=tuple(f.path for f in frames if f.missing),
        hints=_hints(store, bench, frames),
        seconds=time.monotonic() - began,
    )


def _sorted_out(
    store: Store, bench: BenchFile, frames: tuple[FrameOnRecord, ...]
) -> tuple[tuple[tuple[str, str], ...], tuple[tuple[str, str], ...]]:
    """What belongs to no setting, and what to a series.

    The reason of the former goes on record beside the measurement.
    """
    found, in_series = [], []
    for frame in frames:
        if frame.state != "measured" or frame.missing:
            continue
        belongs = belongs_to(frame, bench)
        reason = belongs.reason if isinstance(belongs, NotUsed) else None
        if reason != frame.reason:
            store.change(frame.path, reason=reason)
        if reason:
            found.append((frame.path, reason))
        elif not isinstance(belongs, NotUsed) and belongs.series is not None:
            in_series.append((frame.path, belongs.series))
    return tuple(found), tuple(in_series)


def _hints(store: Store, bench: BenchFile, frames: tuple[FrameOnRecord, ...]) -> tuple[str, ...]:
    below = [f.path for f in frames if not f.missing]
    hints = list(unmatched_rules(bench, below, sky_names(bench.folder)))
    spots = store.spots(("green", "grey"))
    clipped = [path for path, several in spots.items() if "clipped" in several[0].flags]
    if clipped and len(clipped) == len(spots):
        hints.append(
            f"every frame is clipped ({len(clipped)}): no sizes can be taken; expose shorter or "
            "dim the LED until the brightest raw sample stands at 40-70 % of full scale"
        )
    elif clipped:
        hints.append(
            f"clipped, their sizes are not used: {len(clipped)} of {len(spots)} frames; expose "
            "shorter or dim the LED"
        )
    return tuple(hints)
