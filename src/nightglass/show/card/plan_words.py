"""What the planner says on a card: the night, the panorama, the stack."""

from __future__ import annotations

from nightglass.show.card.record import NightStrip, PanoramaLine, StackLine
from nightglass.show.words import NOT_TESTED, percent, seconds


def night_lines(night: NightStrip | None) -> tuple[str, ...]:
    """Return what the card says of the night: place, dark, moon, and when the core is up."""
    if night is None:
        return ()
    lines = [
        f"{night.place}, night of {night.night_of.isoformat()}, times in {night.zone}",
        f"Dark {night.dark}",
        f"Moon {night.moon}",
    ]
    hours = [
        f"{h.local_time} {h.core_altitude_degrees:.0f}\N{DEGREE SIGN} {h.core_direction}"
        for h in night.hours
    ]
    if night.core:
        lines.append(f"Core {night.core}")
    if hours:
        lines.append("by the hour " + " \N{MIDDLE DOT} ".join(hours))
    return tuple(lines)


def panorama_words(line: PanoramaLine | None, too_blurred_percent: float | None = None) -> str:
    """Return the panorama's line, or why there is none."""
    if too_blurred_percent is not None:
        return f"none: the middle is blurred by more than {percent(too_blurred_percent)} of height"
    if line is None:
        return NOT_TESTED
    degree = "\N{DEGREE SIGN}"
    frames = (
        f"{line.frames_per_row} frames \N{MULTIPLICATION SIGN} {line.rows} rows, "
        f"{line.step_degrees:g}{degree} per step"
    )
    if line.rows_in_turn:
        frames = f"{line.held}: " + ", ".join(
            f"{count} frames {height:.0f}{degree} up, every {step:.0f}{degree}"
            for count, height, step in line.rows_in_turn
        )
    return (
        f"{frames}, overlap {line.overlap_percent:.0f} %, {line.total_minutes:.0f} min, "
        f"{line.row_order}"
    )


def stack_words(line: StackLine | None) -> str:
    """Return the stack's line."""
    if line is None:
        return NOT_TESTED
    darks = "with" if line.dark_frames else "without"
    return f"{line.frames} frames, {darks} dark frames, interval {seconds(line.interval_s)}"
