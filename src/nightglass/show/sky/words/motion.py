"""What moved the stars of a frame, in plain words, and whether its exposure time can be right."""

from __future__ import annotations

import math

from nightglass.show.digits import plus_minus
from nightglass.sky.zones.codes import MotionKind
from nightglass.sky.zones.motion import Motion
from nightglass.sky.zones.shutter import ShutterHint

LEAST_RATE_ERR = 0.001
"""No shutter is known better."""
_MOUNT = "a tracking mount: the stars moved at {rate} of the sky's rate"
_DRIFT = (
    "the camera moved the stars by {drift} toward {angle} degrees (0 right, 90 down) beyond what "
    "the sky explains: a tripod that slipped, wind or a bump"
)
MOTIONS = {
    MotionKind.TRIPOD: (
        "the sky's own motion explains the stars (their trails are {rate} times as long as the "
        "sky's)"
    ),
    MotionKind.MOUNT: _MOUNT,
    MotionKind.DRIFT: _DRIFT,
    MotionKind.MOUNT_AND_DRIFT: f"{_MOUNT}; {_DRIFT}",
}
UNCHECKED = (
    "nothing speaks against the sky's own motion (beside the lens's blur their trails are too "
    "short to check it)"
)
NOT_APART = (
    "a mount and a drift can't be told apart here, the sky's trails are too much alike over the "
    "frame"
)
NO_ZONE = "no zone has enough single, unclipped stars to tell lens from motion"


def motion_words(motion: Motion) -> str:
    """Return what moved the stars, or why it is not known."""
    if motion.kind is None:
        return NO_ZONE
    if motion.kind is MotionKind.TRIPOD and motion.rate_unclear:
        return UNCHECKED
    x, y = motion.extra_px
    words = MOTIONS[motion.kind].format(
        rate=rate_words(motion),
        drift=plus_minus(math.hypot(x, y), motion.drift_err_px, "px"),
        angle=f"{math.degrees(math.atan2(y, x)) % 360:.0f}",
    )
    return f"{words}; {NOT_APART}" if motion.rate_unclear else words


def rate_words(motion: Motion) -> str:
    """Return the rate of the stars, of the sky's, with its error; empty where it is not known."""
    if motion.rate is None or motion.rate_err is None:
        return ""
    return plus_minus(motion.rate, max(motion.rate_err, LEAST_RATE_ERR))


def shutter_words(hint: ShutterHint | None, exposure_s: float | None) -> str | None:
    """Return the hint that another exposure time explains the stars as well; None without one.

    exposure_s: true seconds by which the trails were judged.
    """
    if hint is None or exposure_s is None:
        return None
    words = (
        f"the trails are the sky's own if the shutter was open {hint.open_s:.1f} ± "
        f"{hint.open_s_err:.1f} s instead of {exposure_s:.4g} s"
    )
    if hint.marked_s is None:
        return f"{words}: --exposure-s states the true time"
    return (
        f"{words}: with a remote release or a timer the {hint.marked_s:g} s of the file can be the "
        f"true time; --exposure-s {hint.marked_s:g} states it"
    )
