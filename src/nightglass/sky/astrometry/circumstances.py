"""What place and time say of a solved frame: the moment, and its camera without the air."""

from __future__ import annotations

from dataclasses import dataclass

from nightglass.almanac.ephemeris import DateOutsideEphemerisError
from nightglass.almanac.place import Place
from nightglass.frame.record import Metadata
from nightglass.sky.astrometry.airless import AirTaken, apparent_at, take_air_out
from nightglass.sky.astrometry.codes import AirReason, ClockNote
from nightglass.sky.astrometry.moment import SkyMoment, sky_moment, taken_at
from nightglass.sky.astrometry.refine import Solution
from nightglass.sky.astrometry.solve import pattern_stars
from nightglass.sky.stars.find import FoundStars


@dataclass(frozen=True)
class Circumstances:
    """A solution, seen from a place at a time."""

    solution: Solution
    """Its camera without the air where that could be taken out."""
    air: AirTaken
    place: Place | None = None
    moment: SkyMoment | None = None
    """None where place or time is not known."""
    notes: tuple[ClockNote, ...] = ()


def circumstances_of(
    stars: FoundStars, solution: Solution, metadata: Metadata, place: Place | None
) -> Circumstances:
    """Return what is known of a solved frame by its place and the camera's clock.

    The air is taken out of the camera unless the clock contradicts the sky: then it is left as
    it was, and the reason given.
    """
    unknown = AirTaken(False, AirReason.PLACE_OR_TIME_UNKNOWN)
    if place is None:
        return Circumstances(solution, unknown)
    at, note = taken_at(metadata, place)
    notes: tuple[ClockNote, ...] = () if note is None else (note,)
    if at is None:
        return Circumstances(solution, unknown, place, None, notes)
    try:
        moment = sky_moment(solution, stars, place, at)
    except DateOutsideEphemerisError:
        notes = (*notes, ClockNote.OUTSIDE_EPHEMERIS)
        return Circumstances(solution, unknown, place, None, notes)
    if moment.refuted:
        return Circumstances(
            solution, AirTaken(False, AirReason.CLOCK_REFUTED), place, moment, notes
        )
    taken, air = take_air_out(
        stars, pattern_stars(stars), solution, apparent_at(place, at), at.year + at.month / 12
    )
    if air.taken_out:
        # The optical centre, and so the aim, has moved by a pixel or more.
        moment = sky_moment(taken, stars, place, at)
    return Circumstances(taken, air, place, moment, notes)
