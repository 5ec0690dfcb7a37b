"""Gains: signed, with both settings named by the caller, and their intervals."""

from __future__ import annotations

import math

from nightglass.verdict.certainty.spread import LogInterval
from nightglass.verdict.records import Interval


def gain_percent(a: float, b: float) -> float:
    """Return the gain of A over B: (A / B - 1) x 100 %. 75 over 50 is +50, 50 over 75 is -33.3.

    Raises ValueError for a negative A or a B that is not above 0.
    """
    if not (a >= 0 and b > 0):
        raise ValueError(
            f"the gain of {a:g} over {b:g} has no meaning; A must be 0 or more, B above 0"
        )
    return (a / b - 1) * 100


def gain_interval(a: float, b: float, spread: LogInterval | None) -> Interval:
    """Return the gain of A over B [%] with its interval; spread is about ln(A / B).

    Raises ValueError as gain_percent does.
    """
    value = gain_percent(a, b)
    if spread is None or a == 0:
        return Interval(value, None, None)
    ratio = a / b
    return Interval(
        value, (ratio * math.exp(spread.low) - 1) * 100, (ratio * math.exp(spread.high) - 1) * 100
    )
