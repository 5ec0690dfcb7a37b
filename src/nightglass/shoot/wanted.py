"""Which settings and places a session is to test."""

from __future__ import annotations

import math
from collections.abc import Sequence

from nightglass.gear.benchfile import BenchFile, Place
from nightglass.gear.dial import stopped_down
from nightglass.gear.lens import Lens

USUAL_PLACES = (
    Place("centre", 50, 50),
    Place("corner top left", 12, 14),
    Place("corner top right", 88, 14),
    Place("corner bottom left", 12, 86),
    Place("corner bottom right", 88, 86),
)
"""Where bench.toml names no place: centre and four corners, as a new one does."""
STOPS_DOWN = (0.0, 1.0, 2.0)
"""Wide open and two stops down: enough to see whether stopping down helps (common practice)."""


def planned_places(bench: BenchFile) -> tuple[Place, ...]:
    """Return the places of bench.toml, else the usual ones, the one to focus at first.

    That is the one nearest to the centre.
    """
    places = bench.places or USUAL_PLACES
    focus = min(places, key=lambda place: away_from_centre(place, bench))
    return (focus, *(place for place in places if place is not focus))


def away_from_centre(place: Place, bench: BenchFile) -> float:
    """Return how far a place stands from the frame's centre [px]."""
    x = (place.x_percent / 100 - 0.5) * bench.body.width_px
    y = (place.y_percent / 100 - 0.5) * bench.body.height_px
    return math.hypot(x, y)


def fewer_places(places: Sequence[Place], most: int, bench: BenchFile) -> tuple[Place, ...]:
    """Return the place to focus at and those off it that show most, up to a number in all.

    The farthest from the centre comes first, then the one farthest from that: opposite corners.
    """
    kept, rest = list(places[:1]), list(places[1:])
    while rest and len(kept) < most:
        last = kept[-1] if len(kept) > 1 else None

        def worth(place: Place, last: Place | None = last) -> float:
            if last is None:
                return away_from_centre(place, bench)
            return _apart(place, last, bench)

        best = max(rest, key=worth)
        rest.remove(best)
        kept.append(best)
    return tuple(place for place in places if place in kept)


def focal_lengths_mm(lens: Lens) -> tuple[float, ...]:
    """Return the marks to test of a lens: as typed, else both ends and the middle of a zoom.

    The middle is that of the angle of view: the geometric mean, to a whole mm.
    """
    if lens.zoom_marks_mm:
        return tuple(sorted(set(lens.zoom_marks_mm)))
    low, high = lens.focal_mm_min, lens.focal_mm_max
    if low == high:
        return (low,)
    middle = float(round(math.sqrt(low * high)))
    return (low, middle, high) if low < middle < high else (low, high)


def f_numbers(lens: Lens, focal_mm: float, asked: Sequence[float]) -> tuple[float, ...]:
    """Return the marks to test: those asked for that the lens has, else wide open and stops down.

    Between the ends of a zoom its widest opening is not in bench.toml: that of the long end is
    taken, which the lens has everywhere. A lens slower than all that was asked for is tested wide
    open.
    """
    widest = lens.f_number_min_wide if focal_mm == lens.focal_mm_min else lens.f_number_min_long
    if asked:
        return tuple(sorted({mark for mark in asked if mark >= widest * 0.999})) or (widest,)
    return (widest, *(stopped_down(widest, stops) for stops in STOPS_DOWN[1:]))


def _apart(one: Place, other: Place, bench: BenchFile) -> float:
    dx = (one.x_percent - other.x_percent) / 100 * bench.body.width_px
    dy = (one.y_percent - other.y_percent) / 100 * bench.body.height_px
    return math.hypot(dx, dy)
