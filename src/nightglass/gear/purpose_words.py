"""What a person types for the purpose of the pictures."""

from __future__ import annotations

import re

from nightglass.gear.benchfile import Purpose

_NUMBER = r"(\d+(?:\.\d+)?)"
_PRINT = re.compile(
    rf"^print {_NUMBER} ?(?:x ?{_NUMBER} ?)?(mm|cm|m)(?: (wide|high|tall))?"
    rf"(?: (?:seen from|at) {_NUMBER} ?(cm|m))?$"
)
_METRES = {"mm": 0.001, "cm": 0.01, "m": 1.0}
PURPOSE_WORDS = '"phone", "screen", "print 60x40 cm", or "print 60 cm wide seen from 1 m"'


def purpose_of(words: str) -> Purpose | None:
    """Return the purpose that a person typed; None for words that are not understood.

    A print has a width, a height, or both (the longer one is the width of a landscape frame).
    """
    typed = " ".join(words.split())
    said = typed.lower().replace("\N{MULTIPLICATION SIGN}", "x")
    if said in ("phone", "screen"):
        return Purpose("phone" if said == "phone" else "screen", typed)
    found = _PRINT.match(said)
    if not found or (found[2] is None) == (found[4] is None):
        return None
    unit = _METRES[found[3]]
    first = float(found[1]) * unit
    distance = None if found[5] is None else float(found[5]) * _METRES[found[6]]
    if found[2] is not None:
        second = float(found[2]) * unit
        return Purpose("print", typed, max(first, second), min(first, second), distance)
    if found[4] == "wide":
        return Purpose("print", typed, first, None, distance)
    return Purpose("print", typed, None, first, distance)
