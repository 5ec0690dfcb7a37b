"""The magnitude of a star that gives one count, over the field, from the catalogue stars.

A star of magnitude G with flux F [counts], of which neighbours give the share n, says

    m = G + 2.5 log10( F / (1 + n / 2) )      and is fitted by      m(q) = z + a q^2 + b q^4

q the field radius (0 the optical centre, 1 the corner): z the zero point, -(a + b) the light lost
in the corner. Each star weighs by 1 / e^2, with

    e^2 = colours^2 + noise^2 + (UNKNOWN_LIGHT * 10^(0.4 (G - G_bright)))^2

the last for stars too faint to be known, whose light matters the more the fainter the star is; the
scatter by colours is found from what is left, round by round. a and b lean on what lenses usually
have (SLOPES_USUAL +- SLOPES_ERR). What is left tells of the sky:

    +-----+-----+-----+      median of what is left in each cell = plane + patches
    | +.0 | -.1 | -.2 |      plane: air toward the horizon, or cloud on one side
    | +.1 |  .0 | -.1 |      patches beyond the cells' errors: cloud; then no falloff is given,
    +-----+-----+-----+      and the patches are the zero point's error
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from scipy.spatial import cKDTree

from nightglass.optics.arrays import Flags, Floats, Indices
from nightglass.optics.extent import MAD_TO_SIGMA
from nightglass.sky.astrometry.refine import Solution
from nightglass.sky.photometry.open_sky import LEAST_STARS, Hits, in_open
from nightglass.sky.stars.apertures import OUTER
from nightglass.sky.stars.find import Detections

LEAST_SNR = 20.0
ENOUGH_STARS = 60
"""From which no closer neighbours are allowed for the sake of more stars."""
SLOPES_USUAL, SLOPES_ERR = (-0.2, 0.0), (0.6, 0.6)
"""Terms of falloff [mag] that lenses have: what holds the fit where stars do not tell."""
EVEN_ERR = (1e-4, 1e-4)
SLOPES_KNOWN = 0.25
"""Error of the corner's light [mag] from which no falloff is told."""
NEIGHBOUR_LIGHT = (0.02, 0.06, 0.2)
"""Catalogue neighbours' light in a star's aperture, over its own: the first limit that leaves
enough stars is taken."""
NEIGHBOUR_PART = 0.5
"""Of that light taken off; the same again is the error: some lies outside, some in the ring."""
CORE_PX = 3.0
"""From a star's place within which a left-out sample held its light."""
RING_LIGHT = 0.1
"""The same in the ring, of which the middle half of the samples counts."""
UNKNOWN_LIGHT = 0.1
"""Magnitudes by which stars beyond the catalogue brighten a star of the fainter two thirds: the
bright third sets the zero point (design/zero_point.py)."""
BRIGHT = 200
"""The bright third, and no more stars than this."""
NO_DOUBT = (0.0, 0.0, 0.0)
METHOD_ERR = 0.015
"""Of the light of the sharpest stars, which is measured too bright, and of the softest."""
LEAST_SCATTER = 0.02
CELLS = (4, 6)
CELL_STARS, LEAST_CELLS = 5, 6
USUAL_COLOURS_MAG, COLOURS_MAG = 0.2, 0.35
"""Scatter by stars' colours, and one that they do not explain where stars are too few for cells."""
DIM_MAG, DIM_SHARE = 0.2, 0.04
"""Stars fainter than their like by so much and four errors, and their share of all from which
cloud is said; under a clear sky one in a hundred is."""
PATCHY_MAG = 0.06
"""Scatter of the cells about a plane from which cloud is said, if it is six errors too."""
LEAN_MAG = 0.3
"""Slope of that plane over the frame from which it is said; air toward the horizon makes one."""
LEAN_DOUBT = 0.15
"""Share of the slope that the middle of the frame may be off: cloud is no plane."""


@dataclass(frozen=True)
class ZeroPoint:
    """Magnitude of one count: zero + slope q^2 + slope2 q^4, q the field radius."""

    zero: float
    slope: float
    slope2: float
    err: float
    scatter: float
    """Of single stars, their noise taken off: their colours."""
    stars: int
    doubt: tuple[float, float, float]
    """Variance, covariance, variance of the slopes; zeros where they are not known."""
    patchy: float = 0.0
    """Scatter of the sky's transparency over the frame [mag], 0 where none shows."""
    lean: float = 0.0
    """How much fainter stars are at one side of the frame than at the other [mag], 0 if little."""

    def at(self, q: Floats) -> Floats:
        """Return the magnitude of one count at field radii."""
        return self.zero + self.slope * q**2 + self.slope2 * q**4


@dataclass(frozen=True)
class _Sample:
    """Catalogue stars alone in their apertures: places, field radius, magnitude of one count with
    its error by noise, how much fainter than the bright third (as a ratio of light)."""

    x: Floats
    y: Floats
    q: Floats
    value: Floats
    err: Floats
    faint: Floats
    neighbours: float
    """Median share of neighbours' light."""


def zero_point(
    found: Detections, solution: Solution, hits: Hits, open_cells: Flags
) -> ZeroPoint | None:
    """Return the zero point of a frame, None with fewer than LEAST_STARS fit stars.

    Unclipped catalogue stars of the open sky without bright neighbours; brighter ones weigh more,
    as stars too faint to be known lie in every aperture. Where cells of the frame differ by more
    than noise and a plane, their scatter is the error, and no falloff is told.
    """
    sample = _alone(found, solution, hits, open_cells)
    if sample is None:
        return None
    point, miss, err = _fitted(sample)
    patchy, lean = _patchy(sample, miss, err, solution)
    patchy = max(patchy, _dimmed(miss, err), point.scatter if point.scatter > COLOURS_MAG else 0.0)
    if patchy >= PATCHY_MAG:
        point, _, _ = _fitted(sample, even=True)
    err_mag = math.hypot(point.err, patchy, LEAN_DOUBT * lean)
    return replace(point, err=err_mag, patchy=patchy, lean=lean)


def _alone(found: Detections, solution: Solution, hits: Hits, open_cells: Flags) -> _Sample | None:
    stars = found.stars
    catalogue = np.flatnonzero(hits.star >= 0)
    star = hits.star[catalogue]
    good = (stars.snr[star] >= LEAST_SNR) & ~stars.clipped[star] & (stars.edge[star] == 0)
    good &= (stars.flux_counts[star] > 0) & ~_without_core(found)[star]
    good &= in_open(open_cells, hits.x[catalogue], hits.y[catalogue])
    catalogue, star = catalogue[good], star[good]
    inside, ring = _neighbours(hits, catalogue, stars.aperture_px[star])
    for most in NEIGHBOUR_LIGHT:
        alone = (inside < most) & (ring < RING_LIGHT * max(1.0, most / NEIGHBOUR_LIGHT[0] / 3))
        if np.count_nonzero(alone) >= ENOUGH_STARS:
            break
    if np.count_nonzero(alone) < LEAST_STARS:
        return None
    catalogue, star, inside = catalogue[alone], star[alone], inside[alone]
    camera, magnitude = solution.camera, hits.magnitude[catalogue]
    x, y, flux = stars.x_px[star], stars.y_px[star], stars.flux_counts[star]
    bright_percent = min(33.0, 100 * BRIGHT / magnitude.size)
    radius = np.hypot(x - camera.centre_x_px, y - camera.centre_y_px)
    return _Sample(
        x=x,
        y=y,
        q=radius / camera.half_diagonal_px,
        value=magnitude + 2.5 * np.log10(flux / (1 + NEIGHBOUR_PART * inside)),
        err=1.0857 * stars.flux_counts_err[star] / flux,
        faint=10 ** (0.4 * (magnitude - np.percentile(magnitude, bright_percent))),
        neighbours=float(np.median(inside)),
    )


def _without_core(found: Detections) -> Flags:
    """Which stars lost their brightest sample as a hot pixel: sharp ones do, and most of their
    light with it."""
    stars = found.stars
    if found.hot_places is None or len(found.hot_places) == 0:
        return np.zeros(len(stars), dtype=bool)
    tree = cKDTree(found.hot_places[:, ::-1])
    away = tree.query(np.column_stack([stars.x_px, stars.y_px]))[0]
    return np.asarray(away < CORE_PX)


def _neighbours(hits: Hits, chosen: Indices, radius_px: Floats) -> tuple[Floats, Floats]:
    """Light of other catalogue stars in each star's aperture and in its ring, over its own."""
    tree = cKDTree(np.column_stack([hits.x, hits.y]))
    inside, ring = np.zeros(chosen.size), np.zeros(chosen.size)
    near = tree.query_ball_point(
        np.column_stack([hits.x[chosen], hits.y[chosen]]), OUTER * radius_px
    )
    for k, own in enumerate(chosen):
        others = np.array([m for m in near[k] if m != own], dtype=np.intp)
        light = 10 ** (-0.4 * (hits.magnitude[others] - hits.magnitude[own]))
        away = np.hypot(hits.x[others] - hits.x[own], hits.y[others] - hits.y[own])
        # A neighbour just outside of the aperture reaches into it.
        within = away < 1.2 * radius_px[k]
        inside[k], ring[k] = light[within].sum(), light[~within].sum()
    return inside, ring


def _fitted(sample: _Sample, even: bool = False) -> tuple[ZeroPoint, Floats, Floats]:
    """The zero point, with falloff or taken as even; each star's miss and error."""
    prior = np.array([0.0, *(1 / np.square(EVEN_ERR if even else SLOPES_ERR))])
    usual = np.array([0.0, *((0.0, 0.0) if even else SLOPES_USUAL)])
    design = np.stack([np.ones_like(sample.q), sample.q**2, sample.q**4], axis=1)
    keep = np.ones(sample.q.size, dtype=bool)
    miss: Floats = np.zeros(sample.q.size)
    colours = 0.08
    for _ in range(8):
        err = np.sqrt(colours**2 + sample.err**2 + (UNKNOWN_LIGHT * sample.faint) ** 2)
        weighted = design[keep] / err[keep, None]
        inverse = np.linalg.pinv(weighted.T @ weighted + np.diag(prior))
        answer = inverse @ (weighted.T @ (sample.value / err)[keep] + prior * usual)
        miss = sample.value - design @ answer
        spread = max(MAD_TO_SIGMA * float(np.median(np.abs(miss / err)[keep])), 0.5)
        keep = np.abs(miss) < 3 * spread * err
        clear = keep & (sample.err <= np.median(sample.err[keep]))
        seen = MAD_TO_SIGMA * float(np.median(np.abs(miss[clear])))
        noise = float(np.median(sample.err[clear]))
        colours = math.sqrt(max(seen**2 - noise**2, LEAST_SCATTER**2))
    covariance = np.asarray(inverse * max(spread, 1.0) ** 2)
    point = _point(answer, covariance, sample.neighbours)
    point = replace(point, scatter=colours, stars=int(np.count_nonzero(keep)))
    # Cloud scatters stars too: more than colours do is none of a cell's error.
    usual_err = np.sqrt(err**2 - max(colours**2 - USUAL_COLOURS_MAG**2, 0.0))
    return (replace(point, doubt=NO_DOUBT) if even else point), miss, usual_err * spread


def _point(answer: Floats, covariance: Floats, neighbours: float) -> ZeroPoint:
    doubt = covariance[1:, 1:] + np.diag([METHOD_ERR**2, 0.0])
    known = float(doubt.sum()) < SLOPES_KNOWN**2
    return ZeroPoint(
        zero=float(answer[0]),
        slope=float(answer[1]),
        slope2=float(answer[2]),
        err=math.hypot(
            math.sqrt(covariance[0, 0]), METHOD_ERR, NEIGHBOUR_PART * 1.0857 * neighbours
        ),
        scatter=0.0,
        stars=0,
        doubt=(float(doubt[0, 0]), float(doubt[0, 1]), float(doubt[1, 1])) if known else NO_DOUBT,
    )


def _dimmed(miss: Floats, err: Floats) -> float:
    """How far [mag] stars lie under their like, where many do: thick cloud in an open sky."""
    low = miss < -np.maximum(4 * err, DIM_MAG)
    high = miss > np.maximum(4 * err, DIM_MAG)
    count = int(np.count_nonzero(low))
    if count < max(LEAST_STARS, DIM_SHARE * miss.size) or count < 3 * np.count_nonzero(high):
        return 0.0
    return max(float(np.sqrt(np.mean(np.where(low, miss, 0.0) ** 2))), 2 * PATCHY_MAG)


def _patchy(sample: _Sample, miss: Floats, err: Floats, solution: Solution) -> tuple[float, float]:
    """Scatter [mag] of the medians of cells of the frame about a plane, beyond their errors, and
    how far the plane falls from side to side; 0 where none is sure."""
    rows, columns = CELLS
    camera = solution.camera
    u, v = sample.x / camera.width_px - 0.5, sample.y / camera.height_px - 0.5
    row = np.clip(((v + 0.5) * rows).astype(int), 0, rows - 1)
    column = np.clip(((u + 0.5) * columns).astype(int), 0, columns - 1)
    cells = []
    for cell in np.unique(row * columns + column):
        own = row * columns + column == cell
        if np.count_nonzero(own) >= CELL_STARS:
            weight = 1 / err[own] ** 2
            cells.append([1.0, np.mean(u[own]), np.mean(v[own]), np.median(miss[own]),
                          1.57 / np.sum(weight)])  # fmt: skip
    if len(cells) < LEAST_CELLS:
        return 0.0, 0.0
    table = np.array(cells)
    design, middle, variance = table[:, :3], table[:, 3], table[:, 4] + METHOD_ERR**2
    weight = 1 / np.sqrt(variance + PATCHY_MAG**2)
    covariance = np.linalg.pinv((design * weight[:, None] ** 2).T @ design)
    plane = covariance @ (design * weight[:, None] ** 2).T @ middle
    left, free = middle - design @ plane, len(cells) - 3
    fall = abs(float(plane[1])) + abs(float(plane[2]))
    sure = fall > max(LEAN_MAG, 3 * math.sqrt(covariance[1, 1] + covariance[2, 2]))
    lean = fall if sure else 0.0
    noise, seen = float(np.mean(variance)), float(np.sum(left**2)) / free
    # Few faint stars a cell scatter more than their errors say: cloud must stand well above.
    if np.sum(left**2 / variance) < free + 6 * math.sqrt(2 * free) or seen < 3 * noise:
        return 0.0, lean
    patchy = math.sqrt(seen - noise)
    return (patchy if patchy >= PATCHY_MAG else 0.0), lean
