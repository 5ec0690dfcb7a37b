"""How the numbers of a sensor are written: with their error, and no more digits than it has."""

from __future__ import annotations

import math

from nightglass.sensor.records import Known
from nightglass.show.words import NOT_TESTED

NOT_KNOWN = "not known"


def with_error(known: Known, unit: str = "", missing: str = NOT_TESTED) -> str:
    """Return "2.62 +- 0.03 e", "at most 3.1 e", or what stands for a missing number."""
    tail = f" {unit}" if unit else ""
    if known.value is None:
        return missing if known.at_most is None else f"at most {known.at_most:.2g}{tail}"
    if not known.err:
        return f"{known.value:.4g}{tail}"
    places = decimals(known.err)
    return f"{known.value:.{places}f} +- {known.err:.{places}f}{tail}"


def decimals(err: float) -> int:
    """Return how many decimals show an error to two figures below 3, to one above; at least 0."""
    power = math.floor(math.log10(err))
    lead = err / 10.0**power
    return max(0, -power + (1 if lead < 3 else 0))


def plain(known: Known) -> str:
    """Return a number with three figures, without its error, for a narrow table."""
    if known.value is None:
        return "-" if known.at_most is None else f"<= {known.at_most:.2g}"
    return f"{known.value:.3g}"
