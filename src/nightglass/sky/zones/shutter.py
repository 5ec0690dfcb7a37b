"""Whether another exposure time explains the trails of a frame as well as the one it says."""

from __future__ import annotations

from dataclasses import dataclass

from nightglass.sky.zones.motion import Motion

RATE_ERRORS, LEAST_OFF, MOST_OFF, MOST_RATE_ERR = 3.0, 0.03, 0.3, 0.1
"""Rates this far from 1 may be the shutter's: beyond, a mount or a drift is likelier."""
SAME_TIME = 0.01
LEAST_ERR_S = 0.05


@dataclass(frozen=True)
class ShutterHint:
    """The time for which the shutter was open if the trails are the sky's own [s]."""

    open_s: float
    open_s_err: float
    marked_s: float | None
    """The time that the file says, where it can be the true one; else None."""


def shutter_hint(
    motion: Motion, exposure_s: float | None, marked_s: float | None = None
) -> ShutterHint | None:
    """Return the exposure time that explains the stars as well; None without one.

    exposure_s: true seconds by which the trails were judged; marked_s: the time that the file
    says. A rate near the sky's own that is not 1 looks like a mount, and is more often a true
    time taken for a dial's mark or the other way.
    """
    rate, err = motion.rate, motion.rate_err
    if exposure_s is None or rate is None or err is None or motion.moved or err > MOST_RATE_ERR:
        return None
    # Where a mount is found, the rate is another than the sky's for certain.
    least = LEAST_OFF if motion.tracked else max(RATE_ERRORS * err, LEAST_OFF)
    if not least < abs(rate - 1) < MOST_OFF:
        return None
    open_s, open_err = rate * exposure_s, max(err * exposure_s, LEAST_ERR_S)
    if marked_s is None or abs(marked_s / exposure_s - 1) < SAME_TIME or (
        abs(open_s - marked_s) > max(RATE_ERRORS * open_err, SAME_TIME * marked_s)
    ):  # fmt: skip
        return ShutterHint(open_s, open_err, None)
    return ShutterHint(open_s, open_err, marked_s)
