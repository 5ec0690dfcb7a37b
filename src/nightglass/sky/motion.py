"""Motion apart from the lens: per zone one spot, drawn along each star's own path through it.

The path of each star follows from its place, the true exposure time and the solved camera. The
spot of a zone, and a motion that the sky does not explain, are fitted to all samples of its stars
together; second moments (a line of length T adds T^2 / 12) are only the start.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from nightglass.frame.record import Frame
from nightglass.optics.extent import quantiles, within
from nightglass.sky.find import Found
from nightglass.sky.refine import Solution
from nightglass.sky.trailfit import PARAMETERS, recentre, residuals, spot_image
from nightglass.sky.zones import (
    LEAST_STARS,
    ZONE_COLUMNS,
    ZONE_ROWS,
    Group,
    Zone,
    because,
    gather,
)

Array = NDArray[np.float64]

METHOD_SHARE = 0.02
"""Error of a length by the two-part spot alone; see benchmarks/sky_motion.py."""
METHOD_TRAIL_PX = 0.3
"""The same of a zone's own trail: a lopsided lens passes for half a pixel of motion at most."""
UNSEEN_MOTION_PX = 0.05
"""Motion that a still frame may hide: small drift, a shutter time off by a hundredth."""
LEAST = np.array([-1.2, -20, -1.2, -1.2, -20, -1.2, -15, -15, -5, -40, -40, -5, -5, -5, -5.0])
MOST = np.array([3.2, 20, 3.2, 3.2, 20, 3.2, 15, 15, 3, 40, 40, 5, 5, 5, 5.0])
"""Bounds of the parameters (trailfit.PARAMETERS): spots of 0.3 to 25 px deviation."""
FINE = 4
EXTRA = slice(9, 11)
JUDGED_ZONES = 3
"""Zones with most stars from which a motion's direction is judged: each costs two fits."""


@dataclass(frozen=True)
class Motion:
    """All zones of a frame and the motion they have in common beyond the sky's."""

    zones: tuple[Zone, ...]
    extra_px: tuple[float, float]
    """End minus start of the motion that the sky does not explain."""
    extra_err_px: tuple[float, float]
    moved: bool
    """Whether that motion is real: 4 deviations and at least 0.5 px."""
    words: str


def measure_motion(
    frame: Frame, found: Found, solution: Solution, exposure_s: float, year: float = 2026.0
) -> Motion:
    """Return lens and motion per zone of a solved frame.

    First every zone is fitted with an extra motion of its own; what all have in common (weighted
    by their errors) is taken as the camera's, and the lens is fitted again with the motion held.
    """
    groups = [
        gather(frame, found, solution, exposure_s, year, place)
        for place in np.ndindex(ZONE_ROWS, ZONE_COLUMNS)
    ]
    free = [None if isinstance(g, Zone) else _fit_twice(g) for g in groups]
    extra, err, moved = _common([f for f in free if f is not None])
    zones = []
    unsure = moved and not _has_direction(groups, free, extra)
    moved = moved and not unsure
    err = np.full(2, np.hypot(*extra)) if unsure else err
    known = extra if moved else np.zeros(2)
    doubt_px = float(np.hypot(*err)) if moved else METHOD_TRAIL_PX if unsure else UNSEEN_MOTION_PX
    for group, first in zip(groups, free, strict=True):
        if isinstance(group, Zone) or first is None:
            zones.append(group if isinstance(group, Zone) else _unfit(group))
            continue
        again = first
        if np.hypot(*(first.p[EXTRA] - known)) > 2 * METHOD_TRAIL_PX:
            begin = _start(group)
            begin[EXTRA] = known
            again = _fit(group, begin, held=None)
        held = _fit(group, again.p, held=known)
        if unsure:
            again = replace(held, covariance=_with_motion(held.covariance, extra))
        zones.append(_told(group, again, held, solution, doubt_px))
    return Motion(
        zones=tuple(zones),
        extra_px=(float(extra[0]), float(extra[1])),
        extra_err_px=(float(err[0]), float(err[1])),
        moved=moved,
        words=_words(zones, extra, err, moved) if not unsure else _unsure_words(extra),
    )


@dataclass(frozen=True)
class _Fitted:
    p: Array
    covariance: Array
    places: Array
    cost: float


def _start(group: Group) -> Array:
    """First parameters from second moments, the line's T^2 / 12 taken off."""
    trail = group.trails.mean(axis=0)
    spread = group.spread - np.outer(trail, trail) / 12
    values, vectors = np.linalg.eigh(spread)
    values = np.clip(values, 0.4, 60.0)
    spread = (vectors * values) @ vectors.T
    factor = np.linalg.cholesky(spread * 0.6)
    wide = np.linalg.cholesky(spread * 2.5)
    p = np.zeros(PARAMETERS)
    p[0:3] = math.log(factor[0, 0]), factor[1, 0], math.log(factor[1, 1])
    p[3:6] = math.log(wide[0, 0]), wide[1, 0], math.log(wide[1, 1])
    p[8] = -1.0
    return p


def _round_start(group: Group) -> Array | None:
    """First parameters of a round lens; None if the motion would be the sky's within a pixel."""
    trail = group.trails.mean(axis=0)
    values, vectors = np.linalg.eigh(group.spread)
    small = float(np.clip(values[0], 0.4, 60.0))
    motion = vectors[:, 1] * math.sqrt(12 * max(values[1] - small, 0.0))
    # The sense of a line can't be told: the one nearer to the sky's.
    motion = motion if motion @ trail >= 0 else -motion
    extra = motion - trail
    if np.hypot(*extra) < 1.0:
        return None
    p = np.zeros(PARAMETERS)
    p[[0, 2]] = 0.5 * math.log(0.6 * small)
    p[[3, 5]] = 0.5 * math.log(2.5 * small)
    p[8] = -1.0
    p[EXTRA] = extra
    return p


def _fit(group: Group, start: Array, held: Array | None) -> _Fitted:
    """Fit the spot; held: the extra motion [px], or None to fit it too."""
    grey = not np.any(group.samples[:, 4] != 1)
    fixed = set(range(11, 15)) if grey else set()
    p = start.copy()
    if held is not None:
        fixed |= {9, 10}
        p[EXTRA] = held
    chosen = np.array([k for k in range(PARAMETERS) if k not in fixed])
    places = group.places.copy()
    damping, covariance = 1e-2, np.zeros((PARAMETERS, PARAMETERS))
    normal = np.eye(chosen.size)
    for _ in range(10 if held is None else 5):
        places = recentre(p, places, group.trails, group.first, group.samples)
        r = residuals(p, places, group.trails, group.first, group.samples)
        steps = np.full(PARAMETERS, 1e-3)
        columns = []
        for k in chosen:
            moved = p.copy()
            moved[k] += steps[k]
            columns.append(
                (residuals(moved, places, group.trails, group.first, group.samples) - r) / steps[k]
            )
        jacobian = np.stack(columns, axis=1)
        weight = 1 / np.sqrt(1 + (r / 3) ** 2)
        normal = (jacobian * weight[:, None]).T @ jacobian
        slope = (jacobian * weight[:, None]).T @ r
        cost = _cost(r)
        gained = 0.0
        while damping < 1e7:
            move = np.linalg.solve(normal + damping * np.diag(np.diag(normal) + 1e-9), slope)
            trial = p.copy()
            trial[chosen] -= np.clip(move, -0.5, 0.5)
            trial = np.clip(trial, LEAST, MOST)
            then = _cost(residuals(trial, places, group.trails, group.first, group.samples))
            if then <= cost:
                gained, p = cost - then, trial
                damping = max(damping / 5, 1e-6)
                break
            damping *= 6
        if gained < 2e-4 * cost:
            break
    covariance[np.ix_(chosen, chosen)] = np.linalg.pinv(normal) * _spread(r)
    return _Fitted(p, covariance, places, _cost(r))


def _fit_twice(group: Group) -> _Fitted:
    """Fit, leave out the stars that fit far worse than the others (pairs, lamps), fit again."""
    fitted = _fit(group, _start(group), held=None)
    # The other valley: a round lens, and all of the length a motion.
    if (other := _round_start(group)) is not None:
        tried = _fit(group, other, held=None)
        if tried.cost < fitted.cost:
            fitted = tried
    r = residuals(fitted.p, fitted.places, group.trails, group.first, group.samples)
    misses = np.add.reduceat(np.minimum(r * r, 100.0), group.first[:-1]) / np.diff(group.first)
    odd = misses > np.maximum(2.0 * np.median(misses), 2.0)
    if not 0 < np.count_nonzero(odd) <= len(odd) - LEAST_STARS:
        return fitted
    for star in np.flatnonzero(odd):
        group.samples[group.first[star] : group.first[star + 1], 3] = 0.0
    return _fit(group, fitted.p, held=None)


def _cost(r: Array) -> float:
    return float(np.sum(18 * (np.sqrt(1 + (r / 3) ** 2) - 1)))


def _spread(r: Array) -> float:
    """Variance of the misses over what was expected: a poor model widens the errors."""
    used = r[r != 0]
    return max(1.0, (1.4826 * float(np.median(np.abs(used)))) ** 2) if used.size else 1.0


def _common(fits: Sequence[_Fitted]) -> tuple[Array, Array, bool]:
    """The motion that the zones share, its error, and whether it is real."""
    if not fits:
        return np.zeros(2), np.full(2, math.inf), False
    values = np.array([f.p[EXTRA] for f in fits])
    away = np.hypot(*(values - np.median(values, axis=0)).T)
    # A zone that ended in a wrong valley must not carry the others along.
    kept = away <= max(3 * METHOD_TRAIL_PX, 3 * float(np.median(away)))
    values = values[kept]
    weights = np.array(
        [
            1 / (np.diag(f.covariance)[EXTRA] + METHOD_TRAIL_PX**2)
            for f, keep in zip(fits, kept, strict=True)
            if keep
        ]
    )
    mean = (values * weights).sum(axis=0) / weights.sum(axis=0)
    scatter = np.sqrt(((values - mean) ** 2 * weights).sum(axis=0) / max(len(values) - 1, 1))
    err = np.maximum(1.0, scatter) / np.sqrt(weights.sum(axis=0))
    size = float(np.hypot(*mean))
    moved = size > 0.5 and bool(np.sum((mean / err) ** 2) > 16) and len(values) >= 2
    return mean, err, moved


def _has_direction(
    groups: Sequence[Group | Zone], fits: Sequence[_Fitted | None], extra: Array
) -> bool:
    """Whether the same motion across its own direction fits worse than none.

    A flat-topped spot (a lens a little out of focus) is drawn better by any motion than by the
    two-part spot alone: what still gains when turned by 90 degrees is the lens, not the camera.
    A motion that shortens the trails (a tracking mount) can't come from the lens.
    """
    pairs = [(g, f) for g, f in zip(groups, fits, strict=True) if isinstance(g, Group) and f]
    pairs = sorted(pairs, key=lambda pair: -len(pair[0].trails))[:JUDGED_ZONES]
    gained = 0.0
    for group, fit in pairs:
        trail = group.trails.mean(axis=0)
        whole = trail + extra
        if np.hypot(*whole) <= np.hypot(*trail):
            return True
        across = np.array([-whole[1], whole[0]]) - trail
        costs = [_fit(group, fit.p, held).cost for held in (np.zeros(2), across)]
        gained += costs[0] - costs[1]
    return gained < 0


def _with_motion(covariance: Array, extra: Array) -> Array:
    """The covariance with a motion of which only the size is bounded."""
    wider = covariance.copy()
    wider[EXTRA, EXTRA] = np.diag(np.full(2, float(extra @ extra)))
    return wider


def _told(group: Group, free: _Fitted, held: _Fitted, solution: Solution, doubt_px: float) -> Zone:
    """The zone's numbers from its fits: lens with the motion held, trail with it free."""
    camera = solution.camera
    dx, dy = group.zone.x_px - camera.centre_x_px, group.zone.y_px - camera.centre_y_px
    radial = math.degrees(math.atan2(dy, dx))
    p = held.p
    length, width, angle, lean, image = _shape(p, radial)
    rng = np.random.default_rng(0)
    chosen = np.flatnonzero(np.diag(held.covariance) > 0)
    draws = rng.multivariate_normal(
        p[chosen], held.covariance[np.ix_(chosen, chosen)], size=12, method="eigh"
    )
    tried = []
    for draw in draws:
        q = p.copy()
        q[chosen] = draw
        q = np.clip(q, LEAST, MOST)
        tried.append(_shape(q, radial)[:4])
    err = np.std([[t[0], t[1], t[3]] for t in tried], axis=0)
    trail = group.trails.mean(axis=0)
    # L^2 / 10.8 + T^2 / 12 is what is seen: a motion wrong by d makes L wrong by 0.9 T d / L.
    whole = float(np.hypot(*(trail + p[EXTRA])))
    doubt = METHOD_SHARE * length + 0.9 * whole * doubt_px / length
    seen = trail + free.p[EXTRA]
    errors = np.sqrt(np.diag(free.covariance))
    away = abs((angle - radial + 90) % 180 - 90)
    round_ = length / width < 1.15
    colour = not np.all(p[11:] == 0)
    return Zone(
        **{k: getattr(group.zone, k) for k in ("row", "column", "x_px", "y_px", "field_radius")},
        stars=group.zone.stars,
        length_px=length,
        length_px_err=math.hypot(float(err[0]), doubt),
        width_px=width,
        width_px_err=math.hypot(float(err[1]), doubt),
        angle_degrees=None if round_ else angle,
        radial_angle_degrees=None if round_ else away,
        lean=lean,
        lean_err=float(err[2]),
        red_offset_px=(float(p[11]), float(p[12])) if colour else None,
        blue_offset_px=(float(p[13]), float(p[14])) if colour else None,
        offset_err_px=float(np.sqrt(np.diag(held.covariance)[11:].max())) if colour else None,
        trail_expected_px=(float(trail[0]), float(trail[1])),
        trail_seen_px=(float(seen[0]), float(seen[1])),
        trail_err_px=(
            math.hypot(float(errors[9]), METHOD_TRAIL_PX),
            math.hypot(float(errors[10]), METHOD_TRAIL_PX),
        ),
        image=(image / image.sum()).astype(np.float32),
    )


def _shape(p: Array, radial_degrees: float) -> tuple[float, float, float, float, Array]:
    """Length, width, angle, lean of a spot by the definitions of one star spot, and its picture."""
    side = 2 * int(FINE * 30) + 1
    image = spot_image(p, side, FINE)
    middle = (side // 2) / FINE
    radius = 5.0
    for _ in range(8):
        seen = within(image, 1 / FINE, middle, middle, radius)
        wanted = min(max(5.0, 1.5 * seen.length_px), 29.0)
        if abs(wanted - radius) < 0.02 * radius:
            break
        radius = wanted
    turn = math.radians(radial_degrees)
    low, half, high = quantiles(image, 1 / FINE, (middle, middle), radius, turn, (0.05, 0.5, 0.95))
    lean = (high + low - 2 * half) / (high - low)
    return seen.length_px, seen.width_px, seen.angle_degrees, lean, image


def _unfit(group: Group) -> Zone:
    return because(group.zone, "the fit fell apart")


def _unsure_words(extra: Array) -> str:
    return (
        f"a motion of {np.hypot(*extra):.1f} px beyond the sky's can't be told from a lens a "
        "little out of focus; the sky's own motion is taken"
    )


def _words(zones: Sequence[Zone], extra: Array, err: Array, moved: bool) -> str:
    measured = sum(zone.length_px is not None for zone in zones)
    if measured == 0:
        return "no zone has enough single, unclipped stars to tell lens from motion"
    if moved:
        size = float(np.hypot(*extra))
        angle = math.degrees(math.atan2(extra[1], extra[0])) % 360
        return (
            f"the camera moved by {size:.1f} px toward {angle:.0f} degrees (0 right, 90 down) "
            "beyond what the sky explains: a tripod that slipped, wind, a bump or a tracking mount"
        )
    return (
        f"the sky's own motion explains the trails (anything else: {np.hypot(*extra):.2f} +- "
        f"{np.hypot(*err):.2f} px)"
    )
