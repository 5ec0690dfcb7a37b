"""What place and time say of a frame, as plain data and in plain words."""

from __future__ import annotations

import math
from dataclasses import asdict
from typing import Any

from nightglass.sky.astrometry.moment import moment_data, moment_words
from nightglass.sky.astrometry.placed import Placed
from nightglass.sky.digits import plus_minus

CLOCK_WORTH_SAYING_MINUTES = 3.0


def place_data(placed: Placed) -> dict[str, Any]:
    """Return moment, if known, and what became of the air, with the lens's own focal length."""
    solution = placed.solution
    air = asdict(placed.air) | {
        "lens_focal_px": solution.camera.focal_px,
        "lens_focal_px_err": solution.focal_err_px,
    }
    moment = {} if placed.moment is None else {"moment": moment_data(placed.moment)}
    return {**moment, "air": air}


def place_words(placed: Placed) -> list[str]:
    """Return the lines that a person reads."""
    told = [*placed.notes]
    if placed.moment is not None and placed.place is not None:
        told += moment_words(placed.moment, placed.place)
    return [*told, air_words(placed)]


def air_words(placed: Placed) -> str:
    """Return in a line whether the camera is free of the air, and the lens's focal length."""
    air, solution = placed.air, placed.solution
    own = plus_minus(solution.camera.focal_px, solution.focal_err_px, "px")
    if not air.taken_out:
        return (
            f"air: not taken out of the camera, {air.reason}; it makes the focal length 0.02 to "
            f"0.12 % too short: the lens's own is {own}"
        )
    words = (
        f"air: taken out of the camera (standard air times {air.strength:.2f} ± "
        f"{air.strength_err:.2f}); the lens's own focal length is {own}, what its coma may do "
        "included"
    )
    minutes, err = air.clock_minutes or 0.0, air.clock_minutes_err or math.inf
    if abs(minutes) > max(3 * err, CLOCK_WORTH_SAYING_MINUTES):
        way = "slow" if minutes > 0 else "fast"
        words += (
            f"; by the lift of its stars the clock is {abs(minutes):.0f} ± {err:.0f} minutes {way}"
        )
    return words
