"""The lens of every zone and the motion that all zones share, fitted together.

Per zone one spot and the colours' shifts; in common the rate of the sky's motion and an even
drift. Each zone's own unknowns are eliminated, so that the common ones cost a 3 x 3 system.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from concurrent.futures import Executor, ThreadPoolExecutor
from dataclasses import dataclass, replace

import numpy as np

from nightglass.optics.arrays import Floats, Indices
from nightglass.optics.extent import GAUSSIAN_LENGTH
from nightglass.sky.zones.drawn_spot import SHAPE
from nightglass.sky.zones.trail_fit import COMMON, LENS, zone_normal
from nightglass.sky.zones.zone import Group

STILL = np.array([1.0, 0.0, 0.0])
"""On a tripod: the sky's own rate, no drift."""
LOG_SIZE = 1.0
"""Prior deviation of the log sizes of a spot's parts: a factor of 2.7 either way."""
SHARE_MIDDLE, SHARE_SPREAD = -0.5, 1.5
"""Prior of the logit of the second part's share: 4 % to 95 %."""
SMALLEST_VARIANCE, LARGEST_VARIANCE = 0.15, 400.0
MOST_STEP = 0.7
SETTLED = 1e-3
"""Gain of a step, of the cost, from which a fit goes on: bumps take up the rest."""
WORKERS = 2


@dataclass(frozen=True)
class ZoneFit:
    """One zone's lens parameters (trailfit.LENS) and star places, with the equations there."""

    lens: Floats
    places: Floats
    cost: float
    normal: Floats
    """(ALL, ALL) of lens and common motion, stars eliminated, without the prior."""
    right: Floats
    follow: Floats


@dataclass(frozen=True)
class JointFit:
    """All zones at one common motion (rate, drift x, drift y)."""

    motion: Floats
    zones: tuple[ZoneFit, ...]
    cost: float
    information: Floats
    """(3, 3) of the common motion, all lenses eliminated."""


def start_lens(group: Group, motion: Floats) -> Floats:
    """Return first lens parameters from second moments, the line's T^2 / 12 taken off."""
    trail = motion[0] * group.trails.mean(axis=0) + motion[1:]
    spread = group.spread - np.outer(trail, trail) / 12
    values, vectors = np.linalg.eigh(spread)
    values = np.clip(values, SMALLEST_VARIANCE, LARGEST_VARIANCE)
    spread = (vectors * values) @ vectors.T
    lens = np.zeros(LENS)
    for first, factor in ((0, 0.6), (3, 2.5)):
        root = np.linalg.cholesky(spread * factor)
        lens[first : first + 3] = math.log(root[0, 0]), root[1, 0], math.log(root[1, 1])
    lens[8] = SHARE_MIDDLE
    return lens


def fit_jointly(
    groups: Sequence[Group],
    motion: Floats,
    free: Sequence[bool],
    begin: Sequence[ZoneFit] | None = None,
    steps: int = 15,
) -> JointFit:
    """Return the best lenses and, where free, the common motion, from a first motion.

    free: for rate, drift x, drift y. begin: zones to go on from; else from second moments.
    """
    chosen = np.flatnonzero(free)
    priors = [_prior(start_lens(group, motion)) for group in groups]
    with ThreadPoolExecutor(WORKERS) as pool:
        if begin is None:
            lenses = [prior[0] for prior in priors]
            places = [group.places for group in groups]
        else:
            lenses, places = [z.lens for z in begin], [z.places for z in begin]
        now = _at(groups, motion, lenses, places, priors, pool)
        damping = 1e-2
        for _ in range(steps):
            taken = False
            before = now.cost
            while damping < 1e6:
                tried = _stepped(groups, now, chosen, priors, damping, pool)
                if tried.cost <= now.cost:
                    taken, now = True, tried
                    damping = max(damping / 6, 1e-7)
                    break
                damping *= 8
            if not taken or before - now.cost < SETTLED * now.cost:
                break
    return now


def _prior(start: Floats) -> tuple[Floats, Floats]:
    """Middle and weight (1 / variance) of the lens parameters about a start."""
    size = math.exp(0.5 * (start[3] + start[5]))
    spread = np.full(LENS, 3.0)
    spread[[0, 2, 3, 5]] = LOG_SIZE
    spread[[1, 4]] = 2 * size
    spread[[6, 7]] = 1.5 * size
    spread[8] = SHARE_SPREAD
    return start, 1 / spread**2


def _at(
    groups: Sequence[Group],
    motion: Floats,
    lenses: Sequence[Floats],
    places: Sequence[Floats],
    priors: Sequence[tuple[Floats, Floats]],
    pool: Executor,
) -> JointFit:
    def one(number: int) -> ZoneFit:
        group, lens = groups[number], lenses[number]
        cost, normal, right, follow = zone_normal(
            lens, motion, places[number], group.trails, group.first, group.samples, group.turns
        )
        middle, weight = priors[number]
        cost += float(weight @ (lens - middle) ** 2)
        right = right.copy()
        right[:LENS] -= weight * (lens - middle)
        normal[np.arange(LENS), np.arange(LENS)] += weight
        return ZoneFit(lens, places[number], cost, normal, right, follow)

    zones = tuple(pool.map(one, range(len(groups))))
    information = np.zeros((COMMON, COMMON))
    for zone in zones:
        solved = np.linalg.solve(zone.normal[:LENS, :LENS], zone.normal[:LENS, LENS:])
        information += zone.normal[LENS:, LENS:] - zone.normal[LENS:, :LENS] @ solved
    return JointFit(motion, zones, sum(zone.cost for zone in zones), information)


def _stepped(
    groups: Sequence[Group],
    now: JointFit,
    chosen: Indices,
    priors: Sequence[tuple[Floats, Floats]],
    damping: float,
    pool: Executor,
) -> JointFit:
    """One damped step of all parameters."""
    inner, outer, solved = np.zeros((COMMON, COMMON)), np.zeros(COMMON), []
    for zone in now.zones:
        own = zone.normal[:LENS, :LENS] + damping * np.diag(np.diag(zone.normal)[:LENS])
        mixed = zone.normal[:LENS, LENS:]
        part = np.linalg.solve(own, np.column_stack([zone.right[:LENS], mixed]))
        solved.append(part)
        inner += zone.normal[LENS:, LENS:] - mixed.T @ part[:, 1:]
        outer += zone.right[LENS:] - mixed.T @ part[:, 0]
    move = np.zeros(COMMON)
    if chosen.size:
        block = inner[np.ix_(chosen, chosen)]
        block = block + damping * np.diag(np.diag(block)) + 1e-12 * np.eye(chosen.size)
        move[chosen] = np.linalg.solve(block, outer[chosen])
        move = np.clip(move, [-0.3, -3.0, -3.0], [0.3, 3.0, 3.0])
    lenses, places = [], []
    for zone, part in zip(now.zones, solved, strict=True):
        step = np.clip(part[:, 0] - part[:, 1:] @ move, -MOST_STEP, MOST_STEP)
        lenses.append(zone.lens + step)
        shift = zone.follow[:, :, 0] - zone.follow[:, :, 1:] @ np.concatenate([step, move])
        size = np.hypot(shift[:, 0], shift[:, 1])[:, None]
        places.append(zone.places + shift * np.minimum(1.0, 0.5 / np.maximum(size, 1e-12)))
    return _at(groups, now.motion + move, lenses, places, priors, pool)


def fewer(group: Group, most: int) -> Group:
    """Return a group of its first, strongest stars."""
    count = min(most, len(group.places))
    return replace(
        group,
        places=group.places[:count],
        trails=group.trails[:count],
        first=group.first[: count + 1],
        snr=group.snr[:count],
        turns=group.turns[:count],
        samples=group.samples[: group.first[count]],
    )


def rough_length(lens: Floats) -> float:
    """Return the central 90 % [px] of a Gaussian with the moments of a two-part spot."""
    share = 1 / (1 + math.exp(-lens[8]))
    total = share * (1 - share) * np.outer(lens[6 : SHAPE - 1], lens[6 : SHAPE - 1])
    for first, part in ((0, 1 - share), (3, share)):
        root = np.array([[math.exp(lens[first]), 0], [lens[first + 1], math.exp(lens[first + 2])]])
        total = total + part * root @ root.T
    return GAUSSIAN_LENGTH * math.sqrt(float(np.linalg.eigvalsh(total)[1]))
