"""The stars that tell of each zone of a frame, and the samples that they lie on."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from itertools import product

import numpy as np
from scipy.spatial import cKDTree

from nightglass.frame.record import Frame
from nightglass.optics.arrays import Flags, Floats, Indices, Ints64
from nightglass.sky.astrometry.refine import Solution
from nightglass.sky.stars.background import level_at, noise_at
from nightglass.sky.stars.find import Detections
from nightglass.sky.zones.codes import ZoneReason
from nightglass.sky.zones.zone import (
    LEAST_SNR,
    LEAST_STARS,
    STRONG_SNR,
    ZONE_COLUMNS,
    ZONE_ROWS,
    Group,
    Zone,
    expected_trails,
    together,
)

NEAR = 0.5
"""How much the stars near a zone's middle count more: its spot changes inside it. Weights fall by
exp(-NEAR) toward the middles of its sides; benchmarks/sky_motion.py."""
LEAST_TOGETHER, MOST_OF_ONE = 60.0, 50.0
"""SNR of a zone's stars together, the root of the sum of squares, and the most that one star may
add; see benchmarks/sky_motion.py."""
MOST_STARS, FEW_STARS = 24, 12
"""Per zone: more stars cost time and tell no more than how far the spot changes inside it."""
STAR_SAMPLES = 1200
"""Of one star, about: every third sample is taken where it has twice as many, and so on."""
MOST_SAMPLES = 16_000
"""Per zone, as soon as there are FEW_STARS."""


def gather(
    frame: Frame, found: Detections, solution: Solution, exposure_s: float, year: float
) -> list[Group | Zone]:
    """Return the samples of each zone's single, unclipped stars, or the zone with its reason.

    Toward the left and right edges two zones with too few stars are joined where both together
    have enough; the outer one stands for both.
    """
    usable = _usable(found)
    paths = partial(expected_trails, solution, exposure_s=exposure_s, year=year)
    chosen: dict[tuple[int, int], tuple[Zone, Indices, Floats]] = {}
    for row, column in np.ndindex(ZONE_ROWS, ZONE_COLUMNS):
        zone = _zone(frame, solution, row, column, 1)
        chosen[row, column] = (zone, *_chosen(frame, found, solution, usable, zone, paths))
    for row, (outer, inner) in product(range(ZONE_ROWS), ((0, 1), (-1, -2))):
        at, beside = (row, outer % ZONE_COLUMNS), (row, inner % ZONE_COLUMNS)
        if _enough(found, chosen[at][1]) or _enough(found, chosen[beside][1]):
            continue
        zone = _zone(frame, solution, row, outer % ZONE_COLUMNS, 2)
        both = _chosen(frame, found, solution, usable, zone, paths)
        if _enough(found, both[0]):
            chosen[at] = (zone, *both)
            inner_zone = replace(chosen[beside][0], reason=ZoneReason.JOINED)
            chosen[beside] = (inner_zone, *chosen[beside][1:])
    return [
        zone if zone.reason else _group(frame, found, zone, stars, trails)
        for zone, stars, trails in chosen.values()
    ]


def _zone(frame: Frame, solution: Solution, row: int, column: int, columns: int) -> Zone:
    """An unmeasured zone; one of two columns reaches from the edge inward."""
    first = column if column < ZONE_COLUMNS // 2 else column - columns + 1
    x = (first + 0.5 * columns) * frame.width_px / ZONE_COLUMNS - 0.5
    y = (row + 0.5) * frame.height_px / ZONE_ROWS - 0.5
    camera = solution.camera
    radius = math.hypot(x - camera.centre_x_px, y - camera.centre_y_px)
    return Zone(row, column, x, y, radius / camera.half_diagonal_px, 0, columns)


def _usable(found: Detections) -> Flags:
    stars = found.stars
    good = (stars.snr >= LEAST_SNR) & (stars.peak_share < 0.9) & (stars.edge == 0)
    return good & np.isfinite(stars.spread_xx)


def _enough(found: Detections, chosen: Indices) -> bool:
    snr = found.stars.snr[chosen]
    return chosen.size >= LEAST_STARS and together(np.minimum(snr, MOST_OF_ONE)) >= LEAST_TOGETHER


def _chosen(
    frame: Frame,
    found: Detections,
    solution: Solution,
    usable: Flags,
    zone: Zone,
    paths: Callable[[Floats, Floats], Floats],
) -> tuple[Indices, Floats]:
    """The stars that tell of a zone, strongest first, and their paths."""
    stars = found.stars
    across, down = _away(frame, found, zone)
    good = usable & (np.abs(across) <= 1) & (np.abs(down) <= 1)
    matched = np.zeros(len(stars), dtype=bool)
    matched[solution.match.found] = True
    # Lamps and branches are no catalogue stars; faint zones take all that look like stars.
    if _enough(found, np.flatnonzero(good & matched)):
        good &= matched
    chosen = np.flatnonzero(good)
    trails = paths(stars.x_px[chosen], stars.y_px[chosen])
    alone = _alone(found, chosen, trails)
    chosen, trails = chosen[alone], trails[alone]
    near = np.exp(-(across[chosen] ** 2) - down[chosen] ** 2)
    worth = np.minimum(stars.snr[chosen], STRONG_SNR) * near
    most = np.argsort(-worth, kind="stable")[: _most(found, chosen, trails)]
    # Strongest first: the first few judge the motion.
    most = most[np.argsort(-stars.snr[chosen[most]], kind="stable")]
    return chosen[most], trails[most]


def _away(frame: Frame, found: Detections, zone: Zone) -> tuple[Floats, Floats]:
    """Distances of all stars from a zone's middle, 1 at its sides."""
    half_x = 0.5 * zone.columns * frame.width_px / ZONE_COLUMNS
    half_y = 0.5 * frame.height_px / ZONE_ROWS
    return (found.stars.x_px - zone.x_px) / half_x, (found.stars.y_px - zone.y_px) / half_y


def _group(
    frame: Frame, found: Detections, zone: Zone, chosen: Indices, trails: Floats
) -> Group | Zone:
    stars = found.stars
    zone = replace(zone, stars=len(chosen))
    if not _enough(found, chosen):
        return replace(zone, reason=ZoneReason.TOO_FEW_STARS)
    spread = np.nanmedian(
        [stars.spread_xx[chosen], stars.spread_xy[chosen], stars.spread_yy[chosen]], axis=1
    )
    first, samples = _samples(frame, found, chosen, trails)
    across, down = _away(frame, found, zone)
    near = np.exp(-NEAR * (across[chosen] ** 2 + down[chosen] ** 2))
    samples[:, 3] *= np.repeat(near, np.diff(first))
    return Group(
        zone=zone,
        places=np.column_stack([stars.x_px[chosen], stars.y_px[chosen]]),
        trails=trails,
        first=first,
        samples=samples,
        snr=stars.snr[chosen].astype(np.float64),
        turns=np.tile([1.0, 0.0], (len(chosen), 1)),
        spread=np.array([[spread[0], spread[1]], [spread[1], spread[2]]]),
    )


def _reach(found: Detections, chosen: Indices, trails: Floats) -> Floats:
    """Half side of the window of each star: the spot and half of the trail, with room."""
    lengths = found.stars.length_px[chosen]
    lengths = lengths[np.isfinite(lengths)]
    size = np.median(lengths) if lengths.size else 5.0
    trail = np.hypot(trails[:, 0], trails[:, 1])
    return np.clip(1.1 * max(float(size), 3.0) + 0.5 * trail + 2.0, 5.0, 40.0)


def _most(found: Detections, chosen: Indices, trails: Floats) -> int:
    """How many stars a zone takes: fewer where each has a large window."""
    if not chosen.size:
        return 0
    area = float(np.median((2 * _reach(found, chosen, trails) + 1) ** 2))
    return int(np.clip(MOST_SAMPLES / area, FEW_STARS, MOST_STARS))


def _alone(found: Detections, chosen: Indices, trails: Floats) -> Flags:
    """Stars without a neighbour of more than 3 % of their light in the window."""
    stars = found.stars
    if chosen.size == 0:
        return np.zeros(0, dtype=bool)
    tree = cKDTree(np.column_stack([stars.x_px, stars.y_px]))
    reach = _reach(found, chosen, trails)
    alone = np.ones(chosen.size, dtype=bool)
    for k, star in enumerate(chosen):
        near = tree.query_ball_point([stars.x_px[star], stars.y_px[star]], 1.3 * reach[k])
        others = [n for n in near if n != star]
        alone[k] = all(stars.snr[n] < 0.06 * stars.snr[star] for n in others)
    return alone


def _samples(
    frame: Frame, found: Detections, chosen: Indices, trails: Floats
) -> tuple[Ints64, Floats]:
    """All samples in the stars' windows: x, y, counts above the sky, 1 / error, colour."""
    stars = found.stars
    reach = np.ceil(_reach(found, chosen, trails)).astype(int)
    level = level_at(found.sky, stars.x_px[chosen], stars.y_px[chosen])
    noise = noise_at(found.sky, stars.x_px[chosen], stars.y_px[chosen])
    p, q = frame.pattern.shape
    black = np.broadcast_to(frame.black, frame.pattern.shape)
    first, parts = [0], []
    for k, star in enumerate(chosen):
        x0, y0 = round(stars.x_px[star]), round(stars.y_px[star])
        top, bottom = max(y0 - reach[k], 0), min(y0 + reach[k] + 1, frame.height_px)
        left, right = max(x0 - reach[k], 0), min(x0 + reach[k] + 1, frame.width_px)
        y, x = np.mgrid[top:bottom, left:right]
        colour = frame.pattern[y % p, x % q]
        counts = frame.samples[top:bottom, left:right] - black[y % p, x % q] - level[k][colour]
        # Star light has the sky's own ratio of variance to counts: photons, if read noise is small.
        share = noise[k] ** 2 / np.maximum(level[k], noise[k] ** 2 / 4)
        variance = noise[k][colour] ** 2 + share[colour] * np.maximum(counts, 0)
        hot = _hot(counts, np.sqrt(variance), y - stars.y_px[star], x - stars.x_px[star])
        weight = np.where(hot, 0.0, 1 / np.sqrt(variance))
        part = np.column_stack([v.ravel() for v in (x, y, counts, weight, colour)])
        # A wide spot is known from some of its samples; an odd step meets all colours.
        step = 2 * (len(part) // (2 * STAR_SAMPLES)) + 1
        part = part[::step]
        parts.append(part.astype(np.float64))
        first.append(first[-1] + len(part))
    return np.array(first, dtype=np.int64), np.concatenate(parts)


def _hot(counts: Floats, error: Floats, dy: Floats, dx: Floats) -> Flags:
    """Single samples far above their neighbours, off the star itself."""
    padded = np.pad(counts / error, 1, mode="reflect")
    around = np.max(
        [
            padded[1 + b : 1 + b + counts.shape[0], 1 + a : 1 + a + counts.shape[1]]
            for b in (-1, 0, 1)
            for a in (-1, 0, 1)
            if (a, b) != (0, 0)
        ],
        axis=0,
    )
    own = counts / error
    return (own > 6) & (own > 3 * np.maximum(around, 2.0)) & (np.hypot(dx, dy) > 2)
