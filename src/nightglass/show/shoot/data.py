"""The bench plan and the watch as plain data: codes, numbers, units in the names."""

from __future__ import annotations

import math
from dataclasses import asdict
from typing import Any

from nightglass.shoot.matching import Next
from nightglass.shoot.records import BenchPlan, Exposure, Precision
from nightglass.shoot.watcher import Began, Said
from nightglass.show.shoot.cautions import CAUTIONS, LOCAL_RULES
from nightglass.show.shoot.tables import line_rows


def plan_data(plan: BenchPlan) -> dict[str, Any]:
    """Return the whole plan; `lines` are in the order of the session."""
    return {
        "stamp": plan.stamp,
        "made_utc": plan.made.isoformat(timespec="seconds"),
        "body": plan.body.name,
        "source_mm": plan.source_mm,
        "hours": plan.hours,
        "total": asdict(plan.total),
        "full": asdict(plan.full),
        "precision": _precision(plan.precision),
        "full_precision": _precision(plan.full_precision),
        "reference": None if plan.reference is None else asdict(plan.reference),
        "on_record": [{**asdict(s), "rounds": number} for s, number in plan.on_record],
        "cuts": [asdict(cut) for cut in plan.cuts],
        "distances": [asdict(distance) for distance in plan.distances],
        "lines": line_rows(plan),
        "cautions": [LOCAL_RULES, *CAUTIONS],
    }


def began_data(began: Began) -> dict[str, Any]:
    """Return what a watch starts from."""
    return {
        "watching": True,
        "plan": began.plan.stamp,
        "planned_now": began.planned_now,
        "plan_is_old": began.plan_is_old,
        "measured_first": began.measured_first,
        "frames_there": sum(began.now.filled.counts.values()),
        "frames_planned": began.plan.total.frames,
        "next": _next(began.now.next, began.now.next_exposure),
    }


def said_data(event: Said) -> dict[str, Any]:
    """Return what is said of a frame, what comes next, and how long it took to say it."""
    said, now = event.frame, event.now
    return {
        "file": said.path,
        "words": list(said.words),
        "again": said.again,
        "reason": said.reason,
        "setting": None if said.setting is None else asdict(said.setting),
        "place": said.place or None,
        "line": None if said.line is None else said.line.id,
        "number": said.number,
        "length_px": said.length_px,
        "width_px": said.width_px,
        "ee50_px": said.ee50_px,
        "length_percent": said.length_percent,
        "at_limit": said.at_limit,
        "peak_share": said.peak_share,
        "compared_with": said.compared_with,
        "size_times": said.size_times,
        "expose": _exposure(said.expose),
        "next": _next(now.next, now.next_exposure),
        "seconds": event.seconds,
    }


def _precision(precision: Precision) -> dict[str, Any]:
    counts = precision.counts_from_percent
    return {**asdict(precision), "counts_from_percent": counts if math.isfinite(counts) else None}


def _exposure(exposure: Exposure | None) -> dict[str, Any] | None:
    return None if exposure is None else asdict(exposure)


def _next(coming: Next | None, step: Exposure | None) -> dict[str, Any] | None:
    if coming is None:
        return None
    return {
        "line": coming.line.id,
        "role": coming.block.role,
        "setting": asdict(coming.line.setting),
        "place": coming.line.place,
        "round": coming.round,
        "refocus": coming.refocus,
        "frames_left": coming.frames_left,
        "expose": _exposure(step),
    }
