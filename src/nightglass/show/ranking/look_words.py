"""How stars look, in words: for phone, screen and print."""

from __future__ import annotations

from collections.abc import Sequence

from nightglass.verdict.view.look import Look

NAMES = ("phone", "screen", "print")


def look_words(looks: Sequence[Look]) -> str:
    """Return how stars look in most of the frame and in its worst place, purposes joined where
    they look alike: "phone: points; screen, print: points, drawn out in the corner"."""
    grouped: dict[str, list[str]] = {}
    for name, look in zip(NAMES, looks, strict=True):
        grouped.setdefault(one_look_words(look), []).append(name)
    if len(grouped) == 1:
        return f"{next(iter(grouped))} on phone, screen and print"
    return "; ".join(f"{', '.join(names)}: {words}" for words, names in grouped.items())


def one_look_words(look: Look) -> str:
    """Return how stars look for one purpose: typical, and the worst place where it differs."""
    if look.worst is look.typical:
        return str(look.typical.value)
    return f"{look.typical.value}, {look.worst.value} at {look.worst_place}"
