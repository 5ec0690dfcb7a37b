"""Which known causes fit where the sky differs from the bench."""

from __future__ import annotations

import math
from collections.abc import Sequence

from nightglass.proof.codes import CauseCode, StarsFactor
from nightglass.proof.records import Cause, PlaceProof, SkyFrame

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


def causes(places: Sequence[PlaceProof], frames: Sequence[SkyFrame]) -> tuple[Cause, ...]:
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
    if any((place.as_measured_stars or place.stars) < FEW_STARS for place in odd):
        found.append(Cause(CauseCode.FEW_STARS, stars=FEW_STARS))
    if any(place.as_measured_ratio is None and _gap(place) > 0.1 for place in odd):
        found.append(Cause(CauseCode.ZONE_OFF_PLACE))
    return tuple(found) or (Cause(CauseCode.NONE_KNOWN),)


def _counted(places: Sequence[PlaceProof], frames: Sequence[SkyFrame]) -> list[Cause]:
    """What fits light, glow, limit and stars that are not as predicted."""
    nights = [frame.night for frame in frames if frame.night is not None]
    light = {night.light.differs for night in nights} | {night.glow.differs for night in nights}
    deep = {night.stars.differs for night in nights} | {night.limit.differs for night in nights}
    found = []
    if -1 in light:
        found.append(Cause(CauseCode.LESS_LIGHT))
    if 1 in light:
        found.append(Cause(CauseCode.MORE_LIGHT))
    if -1 in deep:
        larger = any(place.differs > 0 for place in places)
        factors = [StarsFactor.LARGER_SPOTS if larger else StarsFactor.MERGED_OR_CLOUD]
        small = [p for p in places if (p.sky_px or math.inf) < FILTERED_UNDER_PX]
        if any(place.differs < 0 for place in small):
            factors.append(StarsFactor.FILTERED_STARS)
        found.append(Cause(CauseCode.FEWER_STARS, tuple(factors)))
    if 1 in deep:
        beyond = max((night.beyond_share for night in nights), default=0.0)
        factors = [StarsFactor.SMALLER_BETWEEN_PLACES]
        if beyond > MUCH_BEYOND:
            factors.append(StarsFactor.RICH_FIELD)
        found.append(Cause(CauseCode.MORE_STARS, tuple(factors)))
    return found


def _larger(places: Sequence[PlaceProof], larger: Sequence[PlaceProof]) -> list[Cause]:
    if not larger:
        return []
    ratios = [span.value for place in places if (span := place.as_measured_ratio or place.ratio)]
    if len(places) > 1 and len(larger) == len(places) and max(ratios) / min(ratios) <= ALIKE:
        return [Cause(CauseCode.FOCUS_EVERYWHERE)]
    outer = [place.field_radius >= OUTER_FROM for place in larger]
    if all(outer) and any(place.field_radius < OUTER_FROM for place in places):
        return [Cause(CauseCode.OUTER_LARGER)]
    return [Cause(CauseCode.FOCUS)]


def _smaller(places: Sequence[PlaceProof], smaller: Sequence[PlaceProof]) -> list[Cause]:
    if not smaller:
        return []
    found = []
    if len(smaller) == len(places) and len(places) > 1:
        found.append(Cause(CauseCode.BENCH_TOO_LARGE))
    elif all(place.field_radius >= OUTER_FROM for place in smaller):
        if any(place.field_radius < OUTER_FROM for place in places):
            found.append(Cause(CauseCode.OUTER_SMALLER))
        else:
            found.append(Cause(CauseCode.ONLY_OUTER_SMALLER))
    if any((place.sky_px or math.inf) < FILTERED_UNDER_PX for place in smaller):
        found.append(Cause(CauseCode.RAW_FILTERING))
    return found


def _of_the_night(frames: Sequence[SkyFrame]) -> list[Cause]:
    found = []
    if any(frame.moved for frame in frames):
        found.append(Cause(CauseCode.CAMERA_MOVED))
    bright = sorted({condition for frame in frames for condition in frame.conditions})
    if bright:
        found.append(Cause(CauseCode.BRIGHT_SKY, conditions=tuple(bright)))
    if any(frame.clipped_share > MANY_CLIPPED for frame in frames):
        found.append(Cause(CauseCode.CLIPPED_STARS))
    return found


def _gap(place: PlaceProof) -> float:
    return 0.0 if place.sky_radius is None else abs(place.sky_radius - place.field_radius)
