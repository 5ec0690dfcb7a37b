"""An observed frame of the sky, cut down to what the comparison with the bench needs."""

from __future__ import annotations

import numpy as np

from nightglass.gear.lens import LensSetting
from nightglass.sky.ephemeris import DateOutsideEphemerisError
from nightglass.sky.moment import sky_moment, taken_at
from nightglass.sky.observe import NO_EXPOSURE, Observation
from nightglass.sky.place import Place
from nightglass.sky.refine import Solution
from nightglass.sky.zones import LEAST_SNR
from nightglass.verdict.proof_records import SkyFrame

CLIPPED_FROM = 0.9
"""Share of the clipping level from which the zones leave a star out."""


def sky_frame(
    file: str, setting: LensSetting, seen: Observation, place: Place | None = None
) -> SkyFrame:
    """Return a frame for the comparison; one that can't be compared keeps its reason.

    place: where it was taken, for moon and twilight; None: not known.
    """
    if not isinstance(seen.solution, Solution):
        failed = seen.solution
        why = f"not solved: {failed.reason}; {failed.advice}"
        return SkyFrame(file, setting, stars=len(seen.found.stars), reason=why)
    if seen.motion is None:
        return SkyFrame(file, setting, stars=len(seen.found.stars), reason=NO_EXPOSURE)
    night, motion = seen.night, seen.motion
    measured = any(zone.length_px is not None for zone in motion.zones)
    return SkyFrame(
        file=file,
        setting=setting,
        zones=motion.zones,
        moved=motion.moved,
        stars=len(seen.found.stars),
        clipped_share=_clipped_share(seen),
        limiting_mag=night.limiting_mag if night else None,
        sky_mag_arcsec2=night.sky_mag_arcsec2 if night else None,
        conditions=_conditions(seen, seen.solution, place),
        reason=None if measured else motion.words,
    )


def _clipped_share(seen: Observation) -> float:
    stars = seen.found.stars
    bright = stars.snr >= LEAST_SNR
    if not np.any(bright):
        return 0.0
    return float(np.mean(stars.peak_share[bright] >= CLIPPED_FROM))


def _conditions(seen: Observation, solution: Solution, place: Place | None) -> tuple[str, ...]:
    if place is None:
        return ()
    at, _ = taken_at(seen.frame.metadata, place)
    if at is None:
        return ()
    try:
        moment = sky_moment(solution, seen.found.stars, place, at)
    except DateOutsideEphemerisError:
        return ()
    # A clock that can't be right says nothing of moon and twilight.
    return moment.conditions if moment.clock_off_minutes == 0 else ()
