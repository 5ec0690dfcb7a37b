"""The motion that all zones of a frame share: the sky's, a tracking mount's, a slipping tripod's.

A rate of the sky's motion and an even drift are found for which the samples are explained best by
spots of any shape (spot_fill). A spot that is drawn a little wrong can't pass for motion then.
What is taken is the simplest motion that the errors allow: none but the sky's, else a rate, else
a drift, else both.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np

from nightglass.optics.arrays import Flags, Floats
from nightglass.sky.zones.codes import MotionKind
from nightglass.sky.zones.joint_fit import (
    STILL,
    WORKERS,
    JointFit,
    fewer,
    fit_jointly,
    rough_length,
)
from nightglass.sky.zones.spot_fill import Filled, fill
from nightglass.sky.zones.zone import Group

HELD_STILL: tuple[tuple[MotionKind, tuple[bool, bool, bool]], ...] = (
    (MotionKind.TRIPOD, (True, True, True)),
    (MotionKind.MOUNT, (False, True, True)),
    (MotionKind.DRIFT, (True, False, False)),
    (MotionKind.MOUNT_AND_DRIFT, (False, False, False)),
)
"""What each kind of motion holds still, of rate, drift x, drift y; the simplest first."""
FIRST_STARS, FIRST_ZONES = 8, 6
"""Stars per zone, and zones, that judge the first guesses of the motion."""
JUDGING_STARS = 8
"""Strongest stars per zone from which the motion is found."""
TRACKED_START = 0.15
"""Not 0: a spot does not change with a motion that is not there."""
STILL_SHARE = 0.97
"""Of what a tripod leaves unexplained, that another first motion must leave at most: in
benchmarks/sky_motion.py moved cameras leave 20 to 92 %."""
LONGEST_STEP = np.array([0.3, 2.0, 2.0])
STEPS, SHORTER = 8, 4
SETTLED_CHI2 = 0.3
SPOT_SHARE = 0.015
"""Square of a trail that passes for lens blur or the other way, over the square of the lens's
length; benchmarks/sky_motion.py."""
ERROR_FACTOR = 2.0
"""Of the errors that the fit itself gives; benchmarks/sky_motion.py."""
REAL_CHI2 = 20.0
"""Of three unknowns: 1 in 6,000 by chance."""
FITS_CHI2 = 14.0
LEAST_MOTION_PX = 0.3
MOST_RATE_ERR = 0.25
"""Beyond it a rate and a drift can't be told apart: the sky's trails are too much alike."""


@dataclass(frozen=True)
class CommonMotion:
    """What all zones share: rate of the sky's motion, drift x and y [px]."""

    kind: MotionKind
    free: Floats
    """With nothing held."""
    free_covariance: Floats
    taken: Floats
    """With what the kind holds: rate 1 for a drift, no drift for a mount."""
    taken_covariance: Floats
    seen: Floats
    """What the stars themselves show of the kind taken: on a tripod a rate, else as taken."""
    seen_covariance: Floats

    @property
    def rate(self) -> float:
        """Of the sky's motion: 1 on a tripod, 0 on a perfect mount."""
        return float(self.seen[0])

    @property
    def rate_err(self) -> float:
        """1-sigma error of the rate; 0 where it was held."""
        return math.sqrt(float(self.seen_covariance[0, 0]))


def first_motion(groups: Sequence[Group]) -> Floats:
    """Return the best of several guesses: a tripod, a mount, drifts that explain long spots."""
    most = sorted(groups, key=lambda group: -len(group.places))[:FIRST_ZONES]
    some = [fewer(group, FIRST_STARS) for group in most]
    best, least, bound = STILL, math.inf, math.inf
    for start in _guesses(groups):
        fit = fit_jointly(some, start, (start is not STILL,) * 3, steps=12)
        motion = fit.motion
        # A line has no sense: the one that goes with the sky.
        if _mean_trail(groups, motion) @ _mean_trail(groups, STILL) < 0:
            motion = -motion
        left = _squares(fill_all(some, fit))
        # Beside a wide lens any short motion fits about as well: still, unless it is much worse.
        if start is STILL:
            bound = STILL_SHARE * left
        elif left < min(bound, least):
            best, least = motion, left
    return best


def _guesses(groups: Sequence[Group]) -> list[Floats]:
    skies = _skies(groups)
    starts = [STILL]
    if np.hypot(*skies.T).max() > 0.7:
        starts.append(np.array([TRACKED_START, 0.0, 0.0]))
    lines = []
    for group, sky in zip(groups, skies, strict=True):
        values, vectors = np.linalg.eigh(group.spread)
        line = vectors[:, 1] * math.sqrt(12 * max(float(values[1] - values[0]), 0.0))
        lines.append(line if line @ sky >= 0 else -line)
    for sense in (1, -1):
        drift = np.median(sense * np.array(lines) - skies, axis=0)
        if np.hypot(*drift) > 1.0:
            starts.append(np.array([1.0, *drift]))
    return starts


def _mean_trail(groups: Sequence[Group], motion: Floats) -> Floats:
    return np.asarray(motion[0] * _skies(groups).mean(axis=0) + motion[1:])


def fill_all(
    groups: Sequence[Group], fit: JointFit, before: Sequence[Filled] | None = None
) -> list[Filled]:
    """Return the bumps of every zone at the motion of a fit."""
    with ThreadPoolExecutor(WORKERS) as pool:
        return list(
            pool.map(
                lambda k: fill(groups[k], fit.zones[k], fit.motion, before[k] if before else None),
                range(len(groups)),
            )
        )


def common_motion(groups: Sequence[Group], start: JointFit) -> CommonMotion:
    """Return the simplest motion that the stars allow; start: a fit of the same groups."""
    some = [fewer(group, JUDGING_STARS) for group in groups]
    fit, filled = _best(some, start)
    covariance = _covariance(some, fit, filled)
    found = simplest(groups, fit.motion, covariance)
    if found.kind is MotionKind.MOUNT_AND_DRIFT:
        # A line has no sense: a drift against the sky's motion may be the simpler answer.
        turned = simplest(groups, -fit.motion, covariance)
        found = turned if turned.kind is not MotionKind.MOUNT_AND_DRIFT else found
    return found


def _best(groups: Sequence[Group], start: JointFit) -> tuple[JointFit, list[Filled]]:
    """The motion that leaves the least unexplained, from that of a first fit."""
    fit = fit_jointly(groups, start.motion, (False,) * 3, start.zones, steps=3)
    filled = fill_all(groups, fit)
    # Once more at the same motion: how a spot changes with it depends on its bumps.
    filled = fill_all(groups, fit, filled)
    for _ in range(STEPS):
        information = np.sum([one.information for one in filled], axis=0) + 1e-9 * np.eye(3)
        step = np.linalg.solve(information, np.sum([one.slope for one in filled], axis=0))
        if step @ information @ step < SETTLED_CHI2:
            break
        step = np.clip(step, -LONGEST_STEP, LONGEST_STEP)
        least = _squares(filled)
        for _ in range(SHORTER):
            tried = fit_jointly(groups, fit.motion + step, (False,) * 3, fit.zones, steps=3)
            bumps = fill_all(groups, tried, fill_all(groups, tried, filled))
            if _squares(bumps) < least:
                break
            # A short trail changes a spot with its square: a straight step goes too far.
            step = step / 3
        else:
            break
        fit, filled = tried, bumps
    return fit, filled


def _squares(filled: Sequence[Filled]) -> float:
    return sum(one.squares for one in filled)


def _covariance(groups: Sequence[Group], fit: JointFit, filled: Sequence[Filled]) -> Floats:
    """Of rate and drift; zones that disagree more than their errors say widen it.

    What all spots have in common that is drawn wrong makes all trails longer or shorter by one
    factor.
    """
    information = np.sum([one.information for one in filled], axis=0)
    away = 0.0
    for one in filled:
        own = one.information[1:, 1:] + 1e-12 * np.eye(2)
        away += float(one.slope[1:] @ np.linalg.solve(own, one.slope[1:]))
    scatter = max(1.0, away / max(2 * len(filled) - 3, 1))
    wide = np.linalg.pinv(information, hermitian=True) * scatter * ERROR_FACTOR**2
    trails = np.hypot(*(fit.motion[0] * _skies(groups) + fit.motion[1:]).T)
    lengths = np.array([rough_length(zone.lens) for zone in fit.zones])
    doubt = SPOT_SHARE * np.median(lengths) ** 2 / 2
    shared = min(1.0, float(doubt / max(np.median(trails) ** 2, doubt)))
    return np.asarray(wide + shared**2 * np.outer(fit.motion, fit.motion))


def _skies(groups: Sequence[Group]) -> Floats:
    """Mean trail of the sky in each zone (n, 2) [px]."""
    return np.array([group.trails.mean(axis=0) for group in groups])


def simplest(groups: Sequence[Group], motion: Floats, covariance: Floats) -> CommonMotion:
    """Return the simplest kind of motion that a free one with its covariance allows."""
    skies = _skies(groups)
    beyond = (motion[0] - 1) * skies + motion[1:]
    size = math.sqrt(float(np.mean(np.sum(beyond**2, axis=1))))
    tried = {kind: holding(motion, covariance, np.array(held)) for kind, held in HELD_STILL}
    kind = MotionKind.MOUNT_AND_DRIFT
    if size < LEAST_MOTION_PX or tried[MotionKind.TRIPOD][2] < REAL_CHI2:
        kind = MotionKind.TRIPOD
    else:
        shorter = np.hypot(*(skies + beyond).T).mean() < np.hypot(*skies.T).mean()
        order = (MotionKind.MOUNT, MotionKind.DRIFT)
        order = order if shorter else order[::-1]
        kind = next((simple for simple in order if tried[simple][2] < FITS_CHI2), kind)
    taken, taken_covariance, _ = tried[kind]
    seen, seen_covariance, _ = tried[MotionKind.MOUNT if kind is MotionKind.TRIPOD else kind]
    return CommonMotion(kind, motion, covariance, taken, taken_covariance, seen, seen_covariance)


def holding(motion: Floats, covariance: Floats, held: Flags) -> tuple[Floats, Floats, float]:
    """Return the best motion with some parts held still, its covariance, and the chi2 it costs."""
    if not np.any(held):
        return motion, covariance, 0.0
    known = covariance[np.ix_(held, held)]
    away = (motion - STILL)[held]
    taken = STILL.copy()
    gain = covariance[np.ix_(~held, held)] @ np.linalg.inv(known)
    taken[~held] = motion[~held] - gain @ away
    left = np.zeros((3, 3))
    rest = covariance[np.ix_(~held, ~held)] - gain @ covariance[np.ix_(held, ~held)]
    left[np.ix_(~held, ~held)] = rest
    return taken, left, float(away @ np.linalg.solve(known, away))
