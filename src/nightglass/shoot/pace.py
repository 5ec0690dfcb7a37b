"""How long the work takes. The minutes are common practice; `pace` in bench.toml scales them."""

from __future__ import annotations

from collections.abc import Sequence

from nightglass.gear.lens import LensSetting

SET_UP_S = 900.0
"""Source, tripod, dark room, and the first trial exposures."""
LENS_S = 300.0
"""Change the lens, let it settle, find the star, find its exposure."""
ZOOM_S = 60.0
F_NUMBER_S = 15.0
FOCUS_S = 30.0
"""Turn the ring away and focus anew, magnified."""
FRAME_S = 12.0
"""Nudge, wait for the tripod, release."""
TURN_S = 30.0
"""Turn to another place of the frame, and stand back for it."""


def block_seconds(rounds: int, places: int) -> float:
    """Return how long rounds over some places take at the usual pace [s]."""
    turns = places if places > 1 else 0
    return rounds * (FOCUS_S + places * FRAME_S + turns * TURN_S)


def change_seconds(before: LensSetting | None, after: LensSetting) -> float:
    """Return how long it takes to go from one setting to the next [s]."""
    if before is None or before.lens != after.lens:
        return LENS_S
    if before.focal_mm != after.focal_mm:
        return ZOOM_S
    return F_NUMBER_S if before.f_number != after.f_number else 0.0


def session_minutes(steps: Sequence[tuple[LensSetting, int, int]], pace: float) -> list[float]:
    """Return the minutes of each step (setting, rounds, places), changes before it included.

    The first one also sets up the bench.
    """
    minutes, before = [], None
    for number, (setting, rounds, places) in enumerate(steps):
        seconds = change_seconds(before, setting) + block_seconds(rounds, places)
        minutes.append((seconds + (SET_UP_S if number == 0 else 0.0)) * pace / 60)
        before = setting
    return minutes
