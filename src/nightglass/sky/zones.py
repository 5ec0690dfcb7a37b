"""The zones of a frame: which stars tell of each, and the samples that they lie on."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from itertools import product

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from nightglass.frame.record import Frame
from nightglass.light.defaults import EARTH_ROTATION_RAD_S
from nightglass.sky.camera import places_px, pole_of_date, turned, vectors_at
from nightglass.sky.find import Found
from nightglass.sky.refine import Solution
from nightglass.sky.skylevel import level_at, noise_at

Array = NDArray[np.float64]

JOINED = "counted with the zone beside it, toward the edge: each alone has too few stars"
TOO_FEW = (
    "{} single unclipped stars that stand out enough; it takes five, with an SNR of 60 together"
)
ZONE_ROWS, ZONE_COLUMNS = 3, 5
LEAST_SNR = 12.0
LEAST_STARS = 5
LEAST_TOGETHER = 60.0
"""SNR of a zone's stars together, the root of the sum of squares; see benchmarks/sky_motion.py."""
MOST_STARS, FEW_STARS = 24, 12
"""Per zone: more stars cost time and tell no more than how far the spot changes inside it."""
STAR_SAMPLES = 1200
"""Of one star, about: every third sample is taken where it has twice as many, and so on."""
MOST_SAMPLES = 16_000
"""Per zone, as soon as there are FEW_STARS."""


@dataclass(frozen=True)
class Zone:
    """The lens and the motion in one zone of the frame [px]; None where it can't be known."""

    row: int
    column: int
    x_px: float
    y_px: float
    field_radius: float
    stars: int
    columns: int = 1
    """How many columns of the frame's zones it covers: two where each alone has too few stars."""
    length_px: float | None = None
    length_px_err: float | None = None
    width_px: float | None = None
    width_px_err: float | None = None
    angle_degrees: float | None = None
    radial_angle_degrees: float | None = None
    """0 radial, 90 tangential."""
    lean: float | None = None
    lean_err: float | None = None
    red_offset_px: tuple[float, float] | None = None
    blue_offset_px: tuple[float, float] | None = None
    offset_err_px: float | None = None
    trail_expected_px: tuple[float, float] | None = None
    """End minus start, mean of the zone's stars."""
    trail_seen_px: tuple[float, float] | None = None
    trail_err_px: tuple[float, float] | None = None
    image: NDArray[np.float32] | None = None
    """The lens's spot, FINE samples per pixel, sum 1."""
    reason: str | None = None


@dataclass(frozen=True)
class Group:
    """The samples of a zone's stars."""

    zone: Zone
    places: Array
    trails: Array
    first: NDArray[np.int64]
    samples: Array
    spread: Array
    """Median second moments (2, 2) [px^2]."""


def expected_trails(
    solution: Solution, x_px: Array, y_px: Array, exposure_s: float, year: float = 2026.0
) -> Array:
    """Return end minus start (n, 2) [px] of the paths of stars whose middles are given.

    exposure_s: true seconds. Raises ValueError for a negative time.
    """
    if exposure_s < 0:
        raise ValueError(f"exposure_s is {exposure_s:g}; an exposure is 0 or longer")
    vectors = vectors_at(solution.camera, solution.rotation, x_px, y_px)
    half = EARTH_ROTATION_RAD_S * exposure_s / 2
    # Westward: against the right-handed sense about the pole.
    pole = pole_of_date(year)
    start = turned(vectors, pole, np.full(len(vectors), half))
    end = turned(vectors, pole, np.full(len(vectors), -half))
    x0, y0 = places_px(solution.camera, solution.rotation, start)
    x1, y1 = places_px(solution.camera, solution.rotation, end)
    return np.stack([x1 - x0, y1 - y0], axis=1)


def gather(
    frame: Frame, found: Found, solution: Solution, exposure_s: float, year: float
) -> list[Group | Zone]:
    """Return the samples of each zone's single, unclipped stars, or the zone with its reason.

    Toward the left and right edges two zones with too few stars are joined where both together
    have enough; the outer one stands for both.
    """
    usable = _usable(found)
    paths = partial(expected_trails, solution, exposure_s=exposure_s, year=year)
    chosen: dict[tuple[int, int], tuple[Zone, NDArray[np.intp], Array]] = {}
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
            chosen[beside] = (because(chosen[beside][0], JOINED), *chosen[beside][1:])
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


def _usable(found: Found) -> NDArray[np.bool_]:
    stars = found.stars
    good = (stars.snr >= LEAST_SNR) & (stars.peak_share < 0.9) & (stars.edge == 0)
    return good & np.isfinite(stars.spread_xx)


def _enough(found: Found, chosen: NDArray[np.intp]) -> bool:
    together = math.sqrt(float(np.sum(np.square(found.stars.snr[chosen], dtype=np.float64))))
    return chosen.size >= LEAST_STARS and together >= LEAST_TOGETHER


def _chosen(
    frame: Frame,
    found: Found,
    solution: Solution,
    usable: NDArray[np.bool_],
    zone: Zone,
    paths: Callable[[Array, Array], Array],
) -> tuple[NDArray[np.intp], Array]:
    """The stars that tell of a zone, strongest first, and their paths."""
    stars = found.stars
    half_x = 0.5 * zone.columns * frame.width_px / ZONE_COLUMNS
    good = usable & (np.abs(stars.x_px - zone.x_px) <= half_x)
    good &= np.abs(stars.y_px - zone.y_px) <= 0.5 * frame.height_px / ZONE_ROWS
    matched = np.zeros(len(stars), dtype=bool)
    matched[solution.match.found] = True
    # Lamps and branches are no catalogue stars; faint zones take all that look like stars.
    if _enough(found, np.flatnonzero(good & matched)):
        good &= matched
    chosen = np.flatnonzero(good)
    trails = paths(stars.x_px[chosen], stars.y_px[chosen])
    alone = _alone(found, chosen, trails)
    chosen, trails = chosen[alone], trails[alone]
    most = _most(found, chosen, trails)
    return chosen[:most], trails[:most]


def _group(
    frame: Frame, found: Found, zone: Zone, chosen: NDArray[np.intp], trails: Array
) -> Group | Zone:
    stars = found.stars
    zone = replace(zone, stars=len(chosen))
    if not _enough(found, chosen):
        return because(zone, TOO_FEW.format(len(chosen)))
    spread = np.nanmedian(
        [stars.spread_xx[chosen], stars.spread_xy[chosen], stars.spread_yy[chosen]], axis=1
    )
    first, samples = _samples(frame, found, chosen, trails)
    return Group(
        zone=zone,
        places=np.column_stack([stars.x_px[chosen], stars.y_px[chosen]]),
        trails=trails,
        first=first,
        samples=samples,
        spread=np.array([[spread[0], spread[1]], [spread[1], spread[2]]]),
    )


def _reach(found: Found, chosen: NDArray[np.intp], trails: Array) -> Array:
    """Half side of the window of each star: the spot and half of the trail, with room."""
    lengths = found.stars.length_px[chosen]
    lengths = lengths[np.isfinite(lengths)]
    size = np.median(lengths) if lengths.size else 5.0
    trail = np.hypot(trails[:, 0], trails[:, 1])
    return np.clip(1.1 * max(float(size), 3.0) + 0.5 * trail + 2.0, 5.0, 40.0)


def _most(found: Found, chosen: NDArray[np.intp], trails: Array) -> int:
    """How many stars a zone takes: fewer where each has a large window."""
    if not chosen.size:
        return 0
    area = float(np.median((2 * _reach(found, chosen, trails) + 1) ** 2))
    return int(np.clip(MOST_SAMPLES / area, FEW_STARS, MOST_STARS))


def _alone(found: Found, chosen: NDArray[np.intp], trails: Array) -> NDArray[np.bool_]:
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
    frame: Frame, found: Found, chosen: NDArray[np.intp], trails: Array
) -> tuple[NDArray[np.int64], Array]:
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


def _hot(counts: Array, error: Array, dy: Array, dx: Array) -> NDArray[np.bool_]:
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


def because(zone: Zone, reason: str) -> Zone:
    """Return the zone with the reason why nothing is known of it."""
    return replace(zone, reason=reason)
