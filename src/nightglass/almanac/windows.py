"""Spans of time: what is left when others are taken away, what two have in common."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from nightglass.almanac.ephemeris import moment

Spans = list[tuple[float, float]]
"""(start, end) in seconds since 1970 UTC, in order, apart from each other."""


@dataclass(frozen=True)
class Window:
    """A span of time, UTC."""

    start: datetime
    end: datetime

    @property
    def hours(self) -> float:
        """Length [hours]."""
        return (self.end - self.start).total_seconds() / 3600


def complement(spans: Spans, start_s: float, end_s: float) -> Spans:
    """Return what of start_s to end_s the spans leave free."""
    edges = [start_s, *(t for span in spans for t in span), end_s]
    return [(a, b) for a, b in zip(edges[::2], edges[1::2], strict=True) if b - a > 1]


def minus(spans: Spans, taken: Spans) -> Spans:
    """Return what is left of spans when others are taken away."""
    return [piece for a, b in spans for piece in complement(overlap([(a, b)], taken), a, b)]


def overlap(one: Spans, other: Spans) -> Spans:
    """Return what two lists of spans have in common."""
    pairs = [(max(a, c), min(b, d)) for a, b in one for c, d in other]
    return sorted((a, b) for a, b in pairs if b - a > 1)


def length_s(spans: Spans) -> float:
    """Return the length of all spans together [s]."""
    return sum(b - a for a, b in spans)


def windows(spans: Spans) -> tuple[Window, ...]:
    """Return spans as windows of aware datetimes."""
    return tuple(Window(moment(a), moment(b)) for a, b in spans)
