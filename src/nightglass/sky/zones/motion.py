"""Motion apart from the lens: per zone one spot, drawn along each star's own path through it.

The path of each star follows from its place, the true exposure time and the solved camera. The
spot of every zone and the motion that all zones share are fitted to all samples together; second
moments (a line of length T adds T^2 / 12) are only the start.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import numpy as np

from nightglass.frame.many import small_matrices
from nightglass.frame.record import Frame
from nightglass.optics.extent import ROUND_RATIO, ImageTooSmallError, NoLightError
from nightglass.sky.astrometry.refine import Solution
from nightglass.sky.stars.find import Detections
from nightglass.sky.zones.codes import MotionKind, ZoneReason
from nightglass.sky.zones.common_motion import (
    MOST_RATE_ERR,
    CommonMotion,
    common_motion,
    first_motion,
)
from nightglass.sky.zones.drawn_spot import SHAPE
from nightglass.sky.zones.joint_fit import WORKERS, JointFit, ZoneFit, fit_jointly
from nightglass.sky.zones.lens_spot import LensSpot, lens_spot
from nightglass.sky.zones.members import gather
from nightglass.sky.zones.spot_fill import fill_lens
from nightglass.sky.zones.spot_turns import with_turns
from nightglass.sky.zones.trail_fit import misses
from nightglass.sky.zones.zone import LEAST_STARS, Group, Zone, strong_stars, together

METHOD_SHARE = 0.012
"""Error of a length by the method itself, the motion known; see benchmarks/sky_motion.py."""
METHOD_PX = 0.02
METHOD_LEAN, METHOD_SHIFT_PX = 0.03, 0.05
"""The same of the lean and of the colours' shifts."""
MOSAIC_PX = 0.1
"""More of it, over the root of the number of stars: how they fell on the mosaic."""
CHANGE_SHARE = 0.2
"""Of how much a spot's size changes among a zone's stars, that stays as an error."""
UNEVEN_SHARE = 0.2
"""The same of what no smooth change explains."""
HIDDEN = 4.0
"""Light that noise may hide makes a length wrong by this share over the stars' SNR together; an
even noise on a Gaussian, with no prior at all, would by 5.4."""
UNSEEN_MOTION_PX = 0.05
"""Motion that a still frame may hide: small drift, a shutter time off by a hundredth."""
SPOT_MISFIT = 0.1
"""Share of a star's light that the spot of the first fit may miss."""
NOTHING = (False, False, False)
"""Free of rate, drift x, drift y in a fit."""


@dataclass(frozen=True)
class Motion:
    """All zones of a frame and the motion they have in common beyond the sky's."""

    zones: tuple[Zone, ...]
    extra_px: tuple[float, float]
    """End minus start of an even motion that the sky does not explain."""
    extra_err_px: tuple[float, float]
    kind: MotionKind | None
    """What moved the stars; None where no zone has enough stars to say."""
    rate: float | None = None
    """Rate at which the stars moved, of the sky's: 1 on a tripod, 0 on a perfect mount."""
    rate_err: float | None = None
    rate_unclear: bool = False
    """On a tripod: the sky's trails are too short to check their rate. Else: they are too much
    alike over the frame to tell a mount from a drift."""
    drift_err_px: float | None = None
    """Larger error of extra_px, the kind of motion taken as known."""

    @property
    def moved(self) -> bool:
        """Whether the motion that the sky does not explain is real."""
        return self.kind in (MotionKind.DRIFT, MotionKind.MOUNT_AND_DRIFT)

    @property
    def tracked(self) -> bool:
        """Whether the rate is another than the sky's."""
        return self.kind in (MotionKind.MOUNT, MotionKind.MOUNT_AND_DRIFT)


def measure_motion(
    frame: Frame, found: Detections, solution: Solution, exposure_s: float, year: float = 2026.0
) -> Motion:
    """Return lens and motion per zone of a solved frame; exposure_s: true seconds.

    The lens is measured with the motion held that all zones have in common.
    """
    gathered = gather(frame, found, solution, exposure_s, year)
    groups = [group for group in gathered if isinstance(group, Group)]
    if not groups:
        zones = tuple(zone for zone in gathered if isinstance(zone, Zone))
        return Motion(zones, (0.0, 0.0), (math.inf, math.inf), None)
    with small_matrices():
        start = fit_jointly(groups, first_motion(groups), NOTHING, steps=12)
        _leave_odd_out(groups, start)
        groups = with_turns(groups, start, solution.camera)
        start = fit_jointly(groups, start.motion, NOTHING, start.zones, steps=6)
        common = common_motion(groups, start)
        fit = fit_jointly(groups, common.taken, NOTHING, start.zones, steps=8)
        spots = _spots(groups, fit, solution)
    measured = iter(
        _measured(group, zone, spot, common, solution)
        for group, zone, spot in zip(groups, fit.zones, spots, strict=True)
    )
    zones = tuple(next(measured) if isinstance(group, Group) else group for group in gathered)
    return _summed(zones, common)


def _summed(zones: tuple[Zone, ...], common: CommonMotion) -> Motion:
    err = np.sqrt(np.diag(common.free_covariance))
    drifts = common.kind in (MotionKind.DRIFT, MotionKind.MOUNT_AND_DRIFT)
    drift = common.taken[1:] if drifts else common.free[1:]
    rate_err = common.rate_err if common.kind is MotionKind.TRIPOD else float(err[0])
    return Motion(
        zones=zones,
        extra_px=(float(drift[0]), float(drift[1])),
        extra_err_px=(float(err[1]), float(err[2])),
        kind=common.kind,
        rate=None if common.kind is MotionKind.DRIFT else common.rate,
        rate_err=None if common.kind is MotionKind.DRIFT else common.rate_err,
        rate_unclear=rate_err > MOST_RATE_ERR,
        drift_err_px=float(np.sqrt(np.diag(common.taken_covariance))[1:].max()) if drifts else None,
    )


def _leave_odd_out(groups: list[Group], fit: JointFit) -> None:
    """Set aside the stars that fit far worse than the others: pairs, lamps."""
    for group, zone in zip(groups, fit.zones, strict=True):
        r = misses(
            zone.lens,
            fit.motion,
            zone.places,
            group.trails,
            group.first,
            group.samples,
            group.turns,
        )
        per_star = np.add.reduceat(np.minimum(r * r, 100.0), group.first[:-1])
        per_star /= np.diff(group.first)
        # No two-part spot fits a strong star within its small noise: that alone is not odd.
        allowed = (SPOT_MISFIT * group.snr) ** 2 / np.diff(group.first)
        odd = per_star > np.maximum(2.0 * np.median(per_star), 2.0) + allowed
        if not 0 < np.count_nonzero(odd) <= len(odd) - LEAST_STARS:
            continue
        group.snr[odd] = 0.0
        for star in np.flatnonzero(odd):
            group.samples[group.first[star] : group.first[star + 1], 3] = 0.0


def _spots(groups: Sequence[Group], fit: JointFit, solution: Solution) -> list[LensSpot | None]:
    """The lens's spot of every zone; None where the fit holds no light, or light without an end."""

    def one(number: int) -> LensSpot | None:
        radial = _radial_degrees(groups[number].zone, solution)
        # A wide prior leaves noise in the outlines: the picture is the one with the narrow prior.
        filled, pictured = fill_lens(groups[number], fit.zones[number], fit.motion)
        try:
            return lens_spot(fit.zones[number], filled, pictured, radial)
        except (NoLightError, ImageTooSmallError):
            return None

    with ThreadPoolExecutor(WORKERS) as pool:
        return list(pool.map(one, range(len(groups))))


def _radial_degrees(zone: Zone, solution: Solution) -> float:
    camera = solution.camera
    return math.degrees(math.atan2(zone.y_px - camera.centre_y_px, zone.x_px - camera.centre_x_px))


def _measured(
    group: Group,
    fit: ZoneFit,
    spot: LensSpot | None,
    common: CommonMotion,
    solution: Solution,
) -> Zone:
    """The zone's numbers: lens with the motion held, trail with it free."""
    if spot is None:
        return replace(group.zone, reason=ZoneReason.NO_SPOT_FITS)
    sky = group.trails.mean(axis=0)
    design = np.column_stack([sky, np.eye(2)])
    taken, seen = design @ common.taken, design @ common.seen
    fit_err = np.sqrt(np.diag(design @ common.seen_covariance @ design.T))
    seen_err = np.hypot(fit_err, UNSEEN_MOTION_PX)
    held_err = math.sqrt(float(np.linalg.eigvalsh(design @ common.taken_covariance @ design.T)[1]))
    unseen = min(UNSEEN_MOTION_PX, float(np.hypot(*fit_err)))
    by_motion = _by_motion(spot.length_px, float(np.hypot(*taken)), math.hypot(held_err, unseen))
    doubt = math.hypot(by_motion, _by_method(spot.length_px, group))
    away = abs((spot.angle_degrees - _radial_degrees(group.zone, solution) + 90) % 180 - 90)
    round_ = spot.length_px / spot.width_px < ROUND_RATIO
    shift = fit.lens[SHAPE:]
    colour = bool(np.any(group.samples[:, 4] != 1))
    shift_err = np.sqrt(
        np.abs(np.diag(np.linalg.pinv(fit.normal[: len(fit.lens), : len(fit.lens)])))
    )
    return replace(
        group.zone,
        length_px=spot.length_px,
        length_px_err=math.hypot(spot.length_px_err, doubt),
        width_px=spot.width_px,
        width_px_err=math.hypot(spot.width_px_err, doubt),
        angle_degrees=None if round_ else spot.angle_degrees,
        radial_angle_degrees=None if round_ else away,
        lean=spot.lean,
        lean_err=math.hypot(spot.lean_err, METHOD_LEAN),
        red_offset_px=(float(shift[0]), float(shift[1])) if colour else None,
        blue_offset_px=(float(shift[2]), float(shift[3])) if colour else None,
        offset_err_px=math.hypot(shift_err[SHAPE:].max(), METHOD_SHIFT_PX) if colour else None,
        trail_expected_px=(float(sky[0]), float(sky[1])),
        trail_seen_px=(float(seen[0]), float(seen[1])),
        trail_err_px=(float(seen_err[0]), float(seen_err[1])),
        image=spot.image.astype(np.float32),
    )


def _by_motion(length_px: float, trail_px: float, trail_err: float) -> float:
    """Error of a lens length by the motion that was held [px].

    L^2 / 10.8 + T^2 / 12 is what is seen: a motion wrong by d makes L wrong by 0.9 T d / L, and a
    motion that is hardly there by 0.45 d^2 / L.
    """
    return (0.9 * trail_px * trail_err + 0.45 * trail_err**2) / length_px


def _by_method(length_px: float, group: Group) -> float:
    """Error of a lens length by the method and by what few or weak stars can't show [px]."""
    hidden = HIDDEN * length_px / together(group.snr)
    mosaic = MOSAIC_PX / math.sqrt(strong_stars(group.snr))
    squares = group.snr**2
    change = math.sqrt(float(squares @ np.log(np.hypot(*group.turns.T)) ** 2 / squares.sum()))
    share = math.hypot(METHOD_SHARE, CHANGE_SHARE * change, UNEVEN_SHARE * group.uneven)
    return math.hypot(share * length_px, METHOD_PX, mosaic, hidden)
