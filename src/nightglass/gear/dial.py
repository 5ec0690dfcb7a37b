"""Marked times and f-numbers, and the exact powers behind the marks.

Marks are rounded names: a dial's 30 is 2^5 = 32 s, its 25 is 2^(14/3) = 25.4 s. Shutter marks
belong to ISO 516, aperture marks to ISO 517; the lists here are common practice in thirds.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

DIAL_TOLERANCE = 1.07
"""A dial step may stand this far over the limit (docs/glossary.md, "Exposure time")."""

_FRACTIONS = (
    8000, 6400, 5000, 4000, 3200, 2500, 2000, 1600, 1250, 1000, 800, 640, 500, 400, 320,
    250, 200, 160, 125, 100, 80, 60, 50, 40, 30, 25, 20, 15, 13, 10, 8, 6, 5, 4,
)  # fmt: skip
_SECONDS = (
    0.3, 0.4, 0.5, 0.6, 0.8, 1.0, 1.3, 1.6, 2.0, 2.5, 3.2, 4.0, 5.0, 6.0, 8.0, 10.0, 13.0,
    15.0, 20.0, 25.0, 30.0, 40.0, 50.0, 60.0, 80.0, 100.0, 120.0, 160.0, 200.0, 240.0,
    320.0, 400.0, 480.0, 640.0, 800.0, 900.0,
)  # fmt: skip
_MARKED_S = (*(1 / n for n in _FRACTIONS), *_SECONDS)
_FIRST_THIRD = -39
"""1/8000 s is 2^(-39/3) s."""

_F_THIRDS = (
    0.7, 0.8, 0.9, 1.0, 1.1, 1.2, 1.4, 1.6, 1.8, 2.0, 2.2, 2.5, 2.8, 3.2, 3.5, 4.0, 4.5, 5.0,
    5.6, 6.3, 7.1, 8.0, 9.0, 10.0, 11.0, 13.0, 14.0, 16.0, 18.0, 20.0, 22.0, 25.0, 29.0, 32.0,
)  # fmt: skip
_F_FIRST_THIRD = -3
"""f/0.7 is 2^(-3/6)."""
_F_HALVES = {1.7: 3, 2.4: 5, 3.3: 7, 4.8: 9, 6.7: 11, 9.5: 13, 19.0: 17, 27.0: 19}
"""Marks that only a dial in half stops has: f-number 2^(k/4)."""

_SAME_MARK = 2e-3
"""Recorded values nearer than this share are the mark itself: files round to 3 digits."""


@dataclass(frozen=True)
class DialStep:
    """One step of the dial: its mark and its true time [s]."""

    marked_s: float
    true_s: float


def dial_steps(dial_end_s: float) -> tuple[DialStep, ...]:
    """Return the steps of a dial in thirds of stops from 1/8000 s to its longest mark.

    dial_end_s: the longest mark [s]; common ends are 30 and 60, some dials go to 900. Raises
    ValueError for an end under 1/8000 s.
    """
    if not dial_end_s >= _MARKED_S[0]:
        raise ValueError(
            f"dial_end_s is {dial_end_s:g}; the longest mark of a dial is 1/8000 s or more, "
            "30 on most bodies"
        )
    return tuple(
        DialStep(marked, 2.0 ** ((_FIRST_THIRD + k) / 3))
        for k, marked in enumerate(_MARKED_S)
        if marked <= dial_end_s * (1 + _SAME_MARK)
    )


def true_time_s(marked_s: float, dial_end_s: float = 30.0) -> float:
    """Return the true time [s] behind a marked one; a time that is no mark stays as it is.

    Times beyond the dial's end came from a remote release and are no marks. A third of a second
    written as 1/3 is the mark 0.3. Raises ValueError for a time of 0 or less.
    """
    if not (marked_s > 0 and math.isfinite(marked_s)):
        raise ValueError(f"marked_s is {marked_s:g}; an exposure time is above 0 seconds")
    if math.isclose(marked_s, 1 / 3, rel_tol=_SAME_MARK):
        marked_s = 0.3
    for step in dial_steps(max(dial_end_s, _MARKED_S[0])):
        if math.isclose(step.marked_s, marked_s, rel_tol=_SAME_MARK):
            return step.true_s
    return marked_s


def exact_f_number(marked: float) -> float:
    """Return the exact f-number behind a mark: the power of two that the mark rounds.

    Marks in thirds of stops are 2^(k/6); marks that only half-stop dials have (1.7, 2.4, 3.3,
    4.8, 6.7, 9.5, 19, 27) are 2^(k/4). Three marks are used in both series and are read as
    thirds: 1.2 (1.260, not 1.189), 3.5 (3.564, not 3.364), 13 (12.70, not 13.45). A value that
    is no mark (0.95, 2.9) stays as it is. Raises ValueError for 0 or less.
    """
    if not (marked > 0 and math.isfinite(marked)):
        raise ValueError(f"f-number is {marked:g}; it must be above 0, as f/2.8 is 2.8")
    for k, mark in enumerate(_F_THIRDS):
        if math.isclose(mark, marked, rel_tol=_SAME_MARK):
            return float(2.0 ** ((_F_FIRST_THIRD + k) / 6))
    for mark, k in _F_HALVES.items():
        if math.isclose(mark, marked, rel_tol=_SAME_MARK):
            return float(2.0 ** (k / 4))
    return marked


def stopped_down(marked: float, stops: float) -> float:
    """Return the mark in thirds of stops nearest to some stops down from a marked f-number.

    Never wider than the first mark nor narrower than the last. Raises ValueError as exact_f_number.
    """
    third = round(6 * math.log2(exact_f_number(marked)) + 3 * stops) - _F_FIRST_THIRD
    return _F_THIRDS[min(max(third, 0), len(_F_THIRDS) - 1)]


def nearest_dial_step(time_s: float, dial_end_s: float) -> DialStep:
    """Return the step whose true time is nearest in stops. Raises ValueError as dial_steps."""
    _check_limit(time_s)
    steps = dial_steps(dial_end_s)
    return min(steps, key=lambda step: abs(math.log2(step.true_s / time_s)))


def longest_dial_step(
    limit_s: float, dial_end_s: float, tolerance: float = DIAL_TOLERANCE
) -> DialStep:
    """Return the longest step whose true time is at most tolerance times the limit.

    Raises ValueError if the limit isn't above 0 or lies under the shortest step.
    """
    _check_limit(limit_s)
    steps = dial_steps(dial_end_s)
    # One part in 1e9: 2^(k/3) and a limit worked out from it must not differ by rounding.
    allowed = [step for step in steps if step.true_s <= tolerance * limit_s * (1 + 1e-9)]
    if not allowed:
        raise ValueError(
            f"limit_s is {limit_s:g}; the shortest step of the dial is {steps[0].true_s:g} s: "
            "allow a longer trail or take a shorter focal length"
        )
    return allowed[-1]


def longest_remote_s(limit_s: float, dial_end_s: float) -> float:
    """Return the longest time [s] with a remote release: the limit to the nearest second.

    Where the nearest second is more than 7 % over the limit, the one below; and never less than
    the true time of the longest dial step that the same tolerance allows, which a remote can
    always hold. inf for a limit of inf. Raises ValueError as longest_dial_step does.
    """
    _check_limit(limit_s)
    if math.isinf(limit_s):
        return limit_s
    # 15 s worked out as 14.9999999 is 15 s.
    whole = math.floor(limit_s * (1 + 1e-9) + 0.5)
    if whole > DIAL_TOLERANCE * limit_s * (1 + 1e-9):
        whole -= 1
    return max(float(whole), longest_dial_step(limit_s, dial_end_s).true_s)


def dial_gain_stops(step: DialStep, limit_s: float) -> float:
    """Return the light of a dial step over that of the limit [stops]: negative costs, positive
    gains (which the tolerance of the dial allows)."""
    _check_limit(limit_s)
    return math.log2(step.true_s / limit_s)


def _check_limit(limit_s: float) -> None:
    if not limit_s > 0:
        raise ValueError(f"limit_s is {limit_s:g}; a longest time is above 0 seconds")
