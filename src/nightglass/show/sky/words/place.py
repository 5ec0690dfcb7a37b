"""What place and time say of a frame, as plain data and in plain words."""

from __future__ import annotations

import math
from dataclasses import asdict
from typing import Any

from nightglass.almanac.ephemeris import FIRST_DAY, LAST_DAY
from nightglass.show.digits import plus_minus
from nightglass.show.sky.words.moment import moment_data, moment_words
from nightglass.sky.astrometry.airless import AirTaken
from nightglass.sky.astrometry.circumstances import Circumstances
from nightglass.sky.astrometry.codes import AirReason, ClockNote

CLOCK_WORTH_SAYING_MINUTES = 3.0
LEAST_CLOCK_ERR_MINUTES = 1.0
CLOCK_NOTES = {
    ClockNote.NO_TIME: "no time is recorded: moon, twilight and clock are not judged",
    ClockNote.ZONE_ASSUMED: "time zone not recorded: {zone} is assumed",
    ClockNote.OUTSIDE_EPHEMERIS: (
        f"clock: the frame's date is outside the table of sun and moon ({FIRST_DAY:%Y-%m-%d} to "
        f"{LAST_DAY:%Y-%m-%d}); check the date or the camera clock"
    ),
}
_CHECK = "check clock, time zone and place"
_OR_LENS = "a lens out of centre can look the same"
AIR_REASONS = {
    AirReason.PLACE_OR_TIME_UNKNOWN: "place and time of the frame are not both known",
    AirReason.CLOCK_REFUTED: "the sky disagrees with place and clock",
    AirReason.STARS_BELOW_HORIZON: (
        "by place and clock {stars_below} of the frame's {stars} stars stood below the horizon"
    ),
    AirReason.FEW_STARS_UP: "too few stars stand clear of the horizon",
    AirReason.ANOTHER_CLOCK_FITS: (
        "the stars do not fit the air over this place at this time, better if the clock is "
        f"{{minutes}} minutes {{way}}: {_CHECK}; {_OR_LENS}"
    ),
    AirReason.STARS_DISAGREE: (
        f"the stars do not fit the air over this place at this time: {_CHECK}, and the place's "
        f"height; {_OR_LENS}"
    ),
}


def place_data(circumstances: Circumstances) -> dict[str, Any]:
    """Return moment, if known, and what became of the air, with the lens's own focal length."""
    solution = circumstances.solution
    air = asdict(circumstances.air) | {
        "lens_focal_px": solution.camera.focal_px,
        "lens_focal_px_err": solution.focal_err_px,
    }
    moment = {} if circumstances.moment is None else {"moment": moment_data(circumstances.moment)}
    return {**moment, "air": air}


def place_words(circumstances: Circumstances) -> list[str]:
    """Return the lines that a person reads."""
    lines = clock_note_words(circumstances)
    if circumstances.moment is not None and circumstances.place is not None:
        lines += moment_words(circumstances.moment, circumstances.place)
    return [*lines, air_words(circumstances)]


def clock_note_words(circumstances: Circumstances) -> list[str]:
    """Return what is to be known of the frame's time."""
    zone = "" if circumstances.place is None else circumstances.place.zone_name
    return [CLOCK_NOTES[note].format(zone=zone) for note in circumstances.notes]


def air_words(circumstances: Circumstances) -> str:
    """Return in a line whether the camera is free of the air, and the lens's focal length."""
    air, solution = circumstances.air, circumstances.solution
    own = plus_minus(solution.camera.focal_px, solution.focal_err_px, "px")
    if not air.taken_out:
        return (
            f"air: not taken out of the camera, {air_reason_words(air)}; it makes the focal length "
            f"0.02 to 0.12 % too short: the lens's own is {own}"
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


def air_reason_words(air: AirTaken) -> str:
    """Return why the air was left in the camera; empty where it was taken out."""
    if air.reason is None:
        return ""
    minutes, err = air.fitting_clock_minutes or 0.0, air.fitting_clock_minutes_err or 0.0
    return AIR_REASONS[air.reason].format(
        stars=air.stars,
        stars_below=air.stars_below,
        minutes=f"{abs(minutes):.0f} ± {max(err, LEAST_CLOCK_ERR_MINUTES):.0f}",
        way="slow" if minutes > 0 else "fast",
    )
