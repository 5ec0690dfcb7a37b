"""Which known causes fit where the sky differs from the bench."""

from __future__ import annotations

import math
from collections.abc import Sequence

from nightglass.proof.records import PlaceProof, SkyFrame

OUTER_FROM = 0.5
"""Field radius from which a place counts as outer."""
ALIKE = 1.25
"""Ratios of all places within this factor of each other count as "by about the same"."""
FEW_STARS = 20
MANY_CLIPPED = 0.1
MUCH_BEYOND = 0.2
"""Share of the predicted stars from the table of the mean sky, from which the field matters."""
FILTERED_UNDER_PX = 4.0
"""Sizes under which a body that filters its raw files makes stars smaller or erases them."""


def causes(places: Sequence[PlaceProof], frames: Sequence[SkyFrame]) -> tuple[str, ...]:
    """Return the causes that fit the differences of one setting; empty if nothing differs.

    They fit, which is not proof: a frame with one thing changed tells.
    """
    larger = [place for place in places if place.differs > 0]
    smaller = [place for place in places if place.differs < 0]
    found = [*_larger(places, larger), *_smaller(places, smaller)]
    counted = _counted(places, frames)
    if not found and not counted:
        return ()
    found += [*counted, *_of_the_night(frames)]
    odd = (*larger, *smaller)
    if any((place.like_stars or place.stars) < FEW_STARS for place in odd):
        found.append(f"few stars: a place rests on fewer than {FEW_STARS}")
    if any(place.like_ratio is None and _gap(place) > 0.1 for place in odd):
        found.append("place: the sky's zone lies nearer to or farther from the centre")
    return tuple(found) or ("no known cause fits",)


def _counted(places: Sequence[PlaceProof], frames: Sequence[SkyFrame]) -> list[str]:
    """What fits light, glow, limit and stars that are not as predicted."""
    nights = [frame.night for frame in frames if frame.night is not None]
    light = {night.light.differs for night in nights} | {night.glow.differs for night in nights}
    deep = {night.stars.differs for night in nights} | {night.limit.differs for night in nights}
    found = []
    if -1 in light:
        found.append(
            "less light than bench.toml says: haze or thin cloud, a lens that passes less "
            "(transmission), dew, or the body's efficiency"
        )
    if 1 in light:
        found.append(
            "more light than bench.toml says: clearer air than assumed, or the body's efficiency "
            "or gain"
        )
    if -1 in deep:
        larger = any(place.differs > 0 for place in places)
        why = "the larger spots" if larger else "neighbours that merge, or thin cloud in parts"
        small = [p for p in places if (p.sky_px or math.inf) < FILTERED_UNDER_PX]
        if any(place.differs < 0 for place in small):
            why += "; raw filtering of small stars: dark frames tell (nightglass sky --dark)"
        found.append(f"fewer stars than predicted: {why}")
    if 1 in deep:
        beyond = max((night.beyond_share for night in nights), default=0.0)
        why = "spots between the bench's places are smaller than assumed"
        if beyond > MUCH_BEYOND:
            why += "; the field is richer in faint stars than the mean sky"
        found.append(f"more stars than predicted: {why}")
    return found


def _larger(places: Sequence[PlaceProof], larger: Sequence[PlaceProof]) -> list[str]:
    if not larger:
        return []
    ratios = [span.value for place in places if (span := place.like_ratio or place.ratio)]
    if len(places) > 1 and len(larger) == len(places) and max(ratios) / min(ratios) <= ALIKE:
        return ["focus: every place is larger on the sky by about the same"]
    outer = [place.field_radius >= OUTER_FROM for place in larger]
    if all(outer) and any(place.field_radius < OUTER_FROM for place in places):
        return [
            "distance or field curvature: only outer places are larger on the sky; the bench's "
            "star stood nearer than the sky's, or the lens sat otherwise in its mount"
        ]
    return ["focus: places are larger on the sky"]


def _smaller(places: Sequence[PlaceProof], smaller: Sequence[PlaceProof]) -> list[str]:
    if not smaller:
        return []
    found = []
    if len(smaller) == len(places) and len(places) > 1:
        found.append("the bench: every place is smaller on the sky; its focus or its light's size")
    elif all(place.field_radius >= OUTER_FROM for place in smaller):
        if any(place.field_radius < OUTER_FROM for place in places):
            found.append("distance or field curvature: only outer places are smaller on the sky")
        else:
            found.append(
                "focus, distance or field curvature: only outer places could be compared, and "
                "they are smaller on the sky"
            )
    if any((place.sky_px or math.inf) < FILTERED_UNDER_PX for place in smaller):
        found.append("raw filtering of small stars: dark frames tell (nightglass sky --dark)")
    return found


def _of_the_night(frames: Sequence[SkyFrame]) -> list[str]:
    found = []
    if any(frame.moved for frame in frames):
        found.append("trail: the camera moved beyond what the sky explains")
    bright = sorted({word for frame in frames for word in frame.conditions})
    if bright:
        found.append(f"{' and '.join(bright)}: faint skirts drown in a bright sky")
    if any(frame.clipped_share > MANY_CLIPPED for frame in frames):
        found.append("clipped stars left out: only the fainter ones, with less skirt, are used")
    return found


def _gap(place: PlaceProof) -> float:
    return 0.0 if place.sky_radius is None else abs(place.sky_radius - place.field_radius)
