"""Which line of the plan each frame is, and what comes next."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from nightglass.bench.combined.sightings import Sighting
from nightglass.gear.lens import LensSetting
from nightglass.shoot.records import BenchPlan, Block, Line

Key = tuple[LensSetting, str]
"""What a frame shows of its line: setting and place."""


@dataclass(frozen=True)
class Filled:
    """The frames of a plan so far; those that are to be shot again do not count."""

    line_of: Mapping[str, Line]
    """By the path of the frame."""
    number_of: Mapping[str, int]
    """Which frame of its line it is, from 1; by path."""
    counts: Mapping[str, int]
    """Frames by the id of the line."""
    extra: frozenset[str]
    """Paths of frames whose lines are all full."""
    no_line: frozenset[str]
    """Paths of frames of no line."""


NOTHING_PLANNED = Filled({}, {}, {}, frozenset(), frozenset())


@dataclass(frozen=True)
class Next:
    """The next frame to shoot."""

    block: Block
    line: Line
    round: int
    refocus: bool
    """A round begins: refocus with the star at the first place."""
    frames_left: int


def shot_order(sightings: Sequence[Sighting]) -> tuple[Sighting, ...]:
    """Return frames in the order in which they were taken: by the camera's clock, then by name.

    Where a frame has no time, all go by name: a camera counts its files.
    """
    faces = {}
    for sighting in sightings:
        taken = sighting.frame.metadata.taken_at
        if taken is None:
            return tuple(sorted(sightings, key=lambda s: s.frame.path))
        # Clocks with and without a zone can't be compared: the face of the clock counts.
        faces[sighting.frame.path] = taken.replace(tzinfo=None)
    return tuple(sorted(sightings, key=lambda s: (faces[s.frame.path], s.frame.path)))


def fill(plan: BenchPlan, frames: Sequence[Sighting], again: frozenset[str]) -> Filled:
    """Return which line each frame fills: the first of its setting and place that is not full.

    frames: in the order of shooting; those of earlier sessions are passed over. again: paths of
    those that are to be shot again. They have a line, but leave its place free.
    """
    lines: dict[Key, list[Line]] = defaultdict(list)
    for line in plan.lines:
        lines[line.setting, line.place].append(line)
    line_of: dict[str, Line] = {}
    number_of: dict[str, int] = {}
    counts: dict[str, int] = defaultdict(int)
    extra, no_line = set(), set()
    before = frozenset(plan.before)
    for frame in frames:
        path = frame.frame.path
        if frame.frame.content_hash in before:
            continue
        own = lines.get((frame.belongs.setting, frame.place))
        if own is None:
            no_line.add(path)
            continue
        free = next((line for line in own if counts[line.id] < line.frames), None)
        if free is None:
            extra.add(path)
            line_of[path] = own[-1]
            continue
        line_of[path], number_of[path] = free, counts[free.id] + 1
        counts[free.id] += path not in again
    return Filled(line_of, number_of, dict(counts), frozenset(extra), frozenset(no_line))


def next_frame(plan: BenchPlan, counts: Mapping[str, int]) -> Next | None:
    """Return the first frame of the plan that is missing; None when all are there."""
    left = sum(max(0, line.frames - counts.get(line.id, 0)) for line in plan.lines)
    for block in plan.blocks:
        for number in range(1, block.rounds + 1):
            for k, line in enumerate(block.lines):
                if counts.get(line.id, 0) < number:
                    return Next(block, line, number, k == 0, left)
    return None
