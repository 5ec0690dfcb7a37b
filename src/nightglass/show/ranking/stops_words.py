"""Light and gains in stops, as photographers say them."""

from __future__ import annotations

import math

THIRDS = {
    1: "a third of a stop",
    2: "two thirds of a stop",
    3: "a stop",
    4: "a stop and a third",
    5: "a stop and two thirds",
    6: "two stops",
}


def stops_of(ratio: float) -> float:
    """Return a ratio of light, or of scores, in stops; ValueError unless it is above 0."""
    if not ratio > 0:
        raise ValueError(f"the ratio is {ratio:g}; light over light is above 0")
    return math.log2(ratio)


def stops_words(stops: float) -> str:
    """Return a size in stops: to the nearest third up to two stops, then to a tenth.

    Under a sixth of a stop: "less than a sixth of a stop".
    """
    size = abs(stops)
    if size < 1 / 6:
        return "less than a sixth of a stop"
    third = round(3 * size)
    return f"about {THIRDS[third]}" if third in THIRDS else f"{size:.1f} stops"
