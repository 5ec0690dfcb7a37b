"""An observed frame of the sky, cut down to what the comparison with the bench needs."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from nightglass.almanac.place import Place
from nightglass.bench.records import SettingResult
from nightglass.gear.benchfile import BenchFile
from nightglass.gear.lens import LensSetting
from nightglass.light.falloff import PupilFalloff
from nightglass.proof.codes import FrameReasonCode
from nightglass.proof.prediction.cells import NightCase
from nightglass.proof.prediction.night import frame_night
from nightglass.proof.reasons import FrameReason
from nightglass.proof.records import (
    FrameNight,
    RedrawnSize,
    SkyFrame,
)
from nightglass.proof.redraw.sizes import redrawn_sizes
from nightglass.proof.sight import Sight
from nightglass.sky.astrometry.moment import SkyMoment
from nightglass.sky.astrometry.refine import Solution
from nightglass.sky.falloff import frame_falloff
from nightglass.sky.observe import Observation, year_of
from nightglass.sky.photometry.conditions import Night
from nightglass.sky.zones.size_field import field_of_zones
from nightglass.sky.zones.zone import LEAST_SNR
from nightglass.verdict.blur import usable_zones
from nightglass.verdict.certainty.repeats import pool_repeats

CLIPPED_FROM = 0.9
"""Share of the clipping level from which the zones leave a star out."""
UNKNOWN_LOG_AREA_ERR = 0.2
"""1-sigma error of ln(noise area) of a bench on which nothing was repeated."""


@dataclass(frozen=True)
class MeasuredBench:
    """What frames of the sky are compared with."""

    results: tuple[SettingResult, ...]
    file: BenchFile
    place: Place | None = None
    """Where the frames were taken, for moon and twilight; None: not known."""
    flats: tuple[tuple[LensSetting, PupilFalloff], ...] = ()
    """Falloffs of settings as flats tell them; what the sky's own frames tell is no forecast."""


def sky_frame(
    name: str,
    setting: LensSetting,
    seen: Observation,
    bench: MeasuredBench,
    exposure_s: float | None = None,
    iso: int | None = None,
) -> SkyFrame:
    """Return a frame for the comparison; one that can't be compared keeps its reason.

    exposure_s: true seconds, as the frame was observed with; iso: as recorded or typed.
    """
    if not isinstance(seen.solution, Solution):
        why = FrameReason(FrameReasonCode.NOT_SOLVED, unsolved=seen.solution)
        return SkyFrame(name, setting, stars=len(seen.found.stars), reason=why)
    if seen.motion is None or not exposure_s:
        why = FrameReason(FrameReasonCode.NO_EXPOSURE)
        return SkyFrame(name, setting, stars=len(seen.found.stars), reason=why)
    night, motion = seen.night, seen.motion
    moment = _moment(seen)
    result = next((r for r in bench.results if r.setting == setting), None)
    alike: tuple[RedrawnSize, ...] = ()
    predictions: FrameNight | None = None
    reason: FrameReason | None = FrameReason(FrameReasonCode.NOT_ON_BENCH)
    if result is not None:
        sight = _sight(seen, seen.solution, exposure_s)
        alike = redrawn_sizes(sight, result.zones, bench.file.body.picture_height_px)
        predictions = _predictions(sight, night, moment, result, bench, iso)
        measured = bool(alike) or any(zone.length_px is not None for zone in motion.zones)
        reason = None if measured else FrameReason(FrameReasonCode.NO_ZONES)
    return SkyFrame(
        file=name,
        setting=setting,
        zones=motion.zones,
        moved=motion.moved,
        stars=len(seen.found.stars),
        clipped_share=_clipped_share(seen),
        limiting_mag=night.limiting_mag if night else None,
        sky_mag_arcsec2=night.sky_mag_arcsec2 if night else None,
        conditions=moment.conditions if moment else (),
        reason=reason,
        redrawn_sizes=alike,
        night=predictions,
        falloff=frame_falloff(seen),
        content_hash=seen.frame.content_hash,
    )


def _predictions(
    sight: Sight,
    night: Night | None,
    moment: SkyMoment | None,
    result: SettingResult,
    bench: MeasuredBench,
    iso: int | None,
) -> FrameNight | None:
    """Light, limit, stars and glow; None where nothing is known of the night."""
    if night is None:
        return None
    log_err, freedom = _area_error(result, bench)
    return frame_night(
        NightCase(
            sight=sight,
            night=night,
            zones=usable_zones(result),
            setting=result.setting,
            bench=bench.file,
            iso=iso,
            aim_altitude_degrees=moment.aim_altitude_degrees if moment else None,
            log_area_err=log_err,
            freedom=freedom,
            falloff=dict(bench.flats).get(result.setting),
        )
    )


def _sight(seen: Observation, solution: Solution, exposure_s: float) -> Sight:
    motion, night = seen.motion, seen.night
    extra = motion.extra_px if motion is not None and motion.moved else (0.0, 0.0)
    tracked = motion is not None and motion.tracked and motion.rate is not None
    return Sight(
        frame=seen.frame,
        found=seen.found,
        solution=solution,
        exposure_s=exposure_s,
        year=year_of(seen.frame),
        extra_px=extra,
        rate=motion.rate if tracked and motion is not None and motion.rate is not None else 1.0,
        e_per_count=night.gain_e_per_count if night else None,
        sizes=field_of_zones(motion.zones) if motion is not None else None,
    )


def _area_error(result: SettingResult, bench: MeasuredBench) -> tuple[float, float]:
    """1-sigma error of ln(noise area) of a setting's places, and its degrees of freedom."""
    scatter = pool_repeats(bench.results).area_of(result.setting.lens)
    if scatter is None:
        return UNKNOWN_LOG_AREA_ERR, float("inf")
    frames = max(min((zone.frames for zone in result.zones), default=1), 1)
    return scatter.deviation / float(np.sqrt(frames)), float(scatter.dof)


def _clipped_share(seen: Observation) -> float:
    stars = seen.found.stars
    bright = stars.snr >= LEAST_SNR
    if not np.any(bright):
        return 0.0
    return float(np.mean(stars.peak_share[bright] >= CLIPPED_FROM))


def _moment(seen: Observation) -> SkyMoment | None:
    """Moon, twilight and aim; None where place or time is not known or the clock can't be right."""
    moment = seen.circumstances.moment if seen.circumstances is not None else None
    return moment if moment is not None and not moment.refuted else None
