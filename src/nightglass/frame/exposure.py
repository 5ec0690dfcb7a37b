"""Marked and true exposure time from what a file records."""

from __future__ import annotations

import math

from nightglass.gear.dial import dial_steps, true_time_s

DIAL_END_S = 30.0
"""Longer times come from a remote release unless the file says a power of two."""
SAME_POWER = 3e-3
"""Recorded powers are rounded to a few digits: 25.4 for 2^(14/3) = 25.398."""
THIRD_SLACK = 0.02
"""APEX values are rationals of a few digits: -4.67 for -14/3."""
MARK_SLACK = 0.08
"""No mark is farther than this share from its power (30 from 32 is 6.7 %)."""


def exposure_times(
    recorded_s: float | None, apex_time: float | None = None
) -> tuple[float | None, float | None]:
    """Return the marked and the true exposure time [s]; None, None where nothing is recorded.

    recorded_s: ExposureTime. apex_time: ShutterSpeedValue, Tv = -log2(seconds) (APEX, CIPA
    DC-008, annex C). A mark such as 30 has its exact power as true time (32); a recorded power
    (32.0, or Tv = -5) is the true time and its mark is looked up; any other time (47 s) came
    from a remote release and is true as it stands.
    """
    power_s = _apex_power_s(apex_time)
    if recorded_s is None:
        # A lone 0 is a blank field, not 1 s: whoever knows the time writes it as ExposureTime too.
        if power_s is None or not apex_time:
            return None, None
        recorded_s = power_s
    of_mark_s = true_time_s(recorded_s, DIAL_END_S)
    true_s = of_mark_s
    if power_s is not None and math.isclose(power_s, recorded_s, rel_tol=MARK_SLACK):
        true_s = power_s
    for step in dial_steps(DIAL_END_S):
        if step.true_s == of_mark_s or math.isclose(step.true_s, recorded_s, rel_tol=SAME_POWER):
            return step.marked_s, true_s
    return recorded_s, true_s


def _apex_power_s(apex_time: float | None) -> float | None:
    """Exact power behind an APEX time value in thirds of stops; None where it's no third."""
    if apex_time is None or not -16 < apex_time < 16:
        return None
    thirds = round(3 * apex_time)
    if abs(apex_time - thirds / 3) > THIRD_SLACK:
        return None
    return float(2.0 ** (-thirds / 3))
