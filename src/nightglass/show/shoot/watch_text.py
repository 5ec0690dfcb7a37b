"""What the watch says, for the terminal."""

from __future__ import annotations

from pathlib import Path

from nightglass.shoot.codes import FrameWord
from nightglass.shoot.records import Aim, Exposure
from nightglass.shoot.watcher import Began, FaultyBench, Said
from nightglass.shoot.watching import FrameSaid, Session
from nightglass.show.shoot.words import (
    CENTRE_RADIUS,
    FRAME_WORDS,
    ROLES,
    count_words,
    exposure_words,
    metres,
    turn_words,
)
from nightglass.show.words import percent, seconds, setting_title

WITH_REASON = frozenset(
    {FrameWord.NOT_USED, FrameWord.NOT_READ, FrameWord.SAME_AS_ANOTHER, FrameWord.LOST}
)


def began_lines(began: Began, folder: Path) -> list[str]:
    """Return what a watch starts from, and what comes first."""
    lines = []
    if began.measured_first:
        lines.append(f"{count_words(began.measured_first, 'file')} lay here: measured first.")
    if began.planned_now:
        lines.append(
            f'No plan on record; this one was made from bench.toml: nightglass plan "{folder}" '
            "prints it."
        )
    elif began.plan_is_old:
        lines.append(
            "bench.toml has changed since the plan was made, and frames may fit no line of it: "
            f'make it anew with  nightglass plan "{folder}"'
        )
    done = sum(began.now.filled.counts.values())
    total = sum(line.frames for line in began.plan.lines)
    lines.append(f"Plan: {done} of {total} frames are there. Watching frames/; stop with Ctrl-C.")
    return [*lines, *next_lines(began.now)]


def said_lines(said: Said) -> list[str]:
    """Return the word on a frame first, then what it is, then what comes next."""
    frame = said.frame
    lines = [f"{frame.path}: {verdict_words(frame)}"]
    if frame.setting is not None:
        lines.append(f"  {where_words(frame)}: {measured_words(frame)}")
    if frame.expose is not None:
        lines.append(f"  {_expose(frame.expose)}")
    return [*lines, *next_lines(said.now)]


def next_lines(now: Session) -> list[str]:
    """Return what to shoot next: one line, with the turn and the exposure."""
    coming = now.next
    if coming is None:
        return ["  The plan is complete."]
    line, block = coming.line, coming.block
    role = "" if block.role.value == "measure" else f" ({ROLES[block.role]})"
    what = f"{setting_title(line.setting)}, {line.place}, round {coming.round} of {block.rounds}"
    focus = "refocus, then " if coming.refocus else ""
    parts = [f"  Next: {focus}{what}{role}", *_aim_words(now.next_aim), *_step(now.next_exposure)]
    return ["; ".join(parts) + f". {count_words(coming.frames_left, 'frame')} left."]


def fault_lines(fault: FaultyBench) -> list[str]:
    """Return why a changed bench.toml is not taken."""
    return [*fault.problems, "What bench.toml said before counts until it is mended."]


def stopped_lines(frames: int, again: int, folder: Path) -> list[str]:
    """Return what a watch has seen when it is stopped."""
    if not frames:
        return ["No frame landed."]
    lines = [f"{count_words(frames, 'frame')} landed, {again} to shoot again."]
    if again:
        lines.append(
            "Frames out of focus or moved stay in the results unless you say otherwise: leave_out "
            "with a reason under [[frames]] in bench.toml."
        )
    return [*lines, f'Next: rank the lenses with  nightglass rank "{folder}"']


def verdict_words(frame: FrameSaid) -> str:
    """Return the word on a frame, and what is wrong with it."""
    return "; ".join(_word(word, frame) for word in frame.words)


def _word(word: FrameWord, frame: FrameSaid) -> str:
    text = FRAME_WORDS[word]
    if word is FrameWord.OUT_OF_FOCUS and frame.size_times is not None:
        text += f" ({frame.size_times:.2f} times the others)"
    if word in WITH_REASON and frame.reason:
        text += f" ({frame.reason})"
    return text


def where_words(frame: FrameSaid) -> str:
    """Return setting and place of a frame, and which one of its line it is."""
    setting = "" if frame.setting is None else setting_title(frame.setting)
    line = frame.line
    if line is None or frame.number is None:
        return f"{setting}, {frame.place}"
    return f"{setting}, {frame.place}, {frame.number} of {line.frames}"


def measured_words(frame: FrameSaid) -> str:
    """Return the size of its spot and its peak."""
    if frame.at_limit:
        size = "spot at the limit of the pixels"
    elif frame.length_px is None or frame.width_px is None or frame.length_percent is None:
        size = "no size"
    else:
        size = (
            f"spot {frame.length_px:.1f} x {frame.width_px:.1f} px "
            f"({percent(frame.length_percent)} of height)"
        )
    peak = "" if frame.peak_share is None else f", peak {100 * frame.peak_share:.0f} %"
    return f"{size}{peak}"


def _expose(step: Exposure) -> str:
    if step.marked_s is None:
        return ""
    peak = "" if step.peak_share is None else f": peak about {100 * step.peak_share:.0f} %"
    dim = "; that is short enough for flicker: rather dim the LED" if step.flicker else ""
    return f"Set {seconds(step.marked_s)}{peak}{dim}."


def _aim_words(aim: Aim | None) -> list[str]:
    if aim is None:
        return []
    stand = f", stand at {metres(aim.stand_m)}" if aim.stand_m is not None else ""
    turn = "" if aim.field_radius <= CENTRE_RADIUS else "turn "
    return [f"{turn}{turn_words(aim)}{stand}"]


def _step(step: Exposure | None) -> list[str]:
    if step is None or step.marked_s is None:
        return []
    return [f"expose {exposure_words(step)}"]
