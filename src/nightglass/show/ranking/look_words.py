"""How stars look, in words: for phone, screen and print."""

from __future__ import annotations

from collections.abc import Sequence

from nightglass.verdict.view.eye import Eye
from nightglass.verdict.view.look import Look

NAMES = ("phone", "screen", "print")


def look_words(looks: Sequence[Look]) -> str:
    """Return how stars look in most of the frame and in its worst place, purposes joined where
    they look alike: "points on a phone and a screen; points on a print, streaks at left"."""
    grouped: dict[str, tuple[Look, list[str]]] = {}
    for name, look in zip(NAMES, looks, strict=True):
        grouped.setdefault(one_look_words(look), (look, []))[1].append(f"a {name}")
    return "; ".join(
        f"{look.typical.value} on {_joined(names)}{_worst(look)}"
        for look, names in grouped.values()
    )


def one_look_words(look: Look) -> str:
    """Return how stars look for one purpose: typical, and the worst place where it differs."""
    return f"{look.typical.value}{_worst(look)}"


def viewed_words(eye: Eye) -> str:
    """Return how pictures are looked at: "on a screen", "as a print 60 cm wide seen from 1 m"."""
    return f"{'as' if eye.kind == 'print' else 'on'} a {eye.words}"


def _worst(look: Look) -> str:
    return "" if look.worst is look.typical else f", {look.worst.value} at {look.worst_place}"


def _joined(names: Sequence[str]) -> str:
    return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)
