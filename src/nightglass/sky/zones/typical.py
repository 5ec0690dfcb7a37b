"""One typical star of each zone, cut out as the sensor recorded it.

The mosaic's gaps are filled as for a measured spot (spot.rebuild), so that what is seen is green
light on whole raw pixels: nothing is sharpened, turned or scaled.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from nightglass.frame.record import Frame
from nightglass.optics.arrays import Flags, Floats32, Indices
from nightglass.optics.extent import APERTURE_LENGTHS
from nightglass.sky.astrometry.refine import Solution
from nightglass.sky.stars.find import Detections, FoundStars
from nightglass.sky.zones.motion import Motion
from nightglass.sky.zones.zone import LEAST_SNR, ZONE_COLUMNS, ZONE_ROWS, Zone
from nightglass.spot.patch import above_background, background, cut, without_hot_pixels
from nightglass.spot.rebuild import MARGIN, kernels, predict
from nightglass.spot.shape import SMOOTH_PX, distance
from nightglass.spot.ties import fit_ties

GREEN = 1
LEAST_HALF_PX, MOST_HALF_PX = 7, 40
ROOM = 0.8
"""Half side of a crop over the longest star with its trail."""
CLIPPED_SHARE = 0.9
QUIET = 0.06
"""SNR of a neighbour over the star's, from which it spoils the crop."""
BRIGHTEST = 12
"""So many of the brightest unclipped stars are looked at: noise hides the shape of fainter ones."""


@dataclass(frozen=True)
class Crop:
    """A star as recorded: green light above the sky [counts], one sample per raw pixel."""

    row: int
    column: int
    """Of its zone."""
    x_px: float
    y_px: float
    snr: float
    peak_share: float
    light: Floats32
    """(2 half + 1, 2 half + 1), the star's pixel in the middle."""


def typical_stars(
    frame: Frame, found: Detections, solution: Solution, motion: Motion
) -> tuple[Crop, ...]:
    """Return a crop per zone that has a single unclipped catalogue star with the SNR of a zone's.

    All crops have one size, wide enough for the longest star with its trail. The star is the one
    nearest to the zone's median length and width among the dozen brightest unclipped ones.
    """
    half = _half_px(found, motion)
    matched = np.zeros(len(found.stars), dtype=bool)
    matched[solution.match.found] = True
    crops = []
    for zone in motion.zones:
        star = _typical(frame, found, matched, zone, half)
        if star is not None:
            stars = found.stars
            at_px = float(stars.x_px[star]), float(stars.y_px[star])
            size_px = float(stars.length_px[star]), float(stars.width_px[star])
            light = green_light(frame, at_px, size_px, half)
            crops.append(
                Crop(
                    zone.row, zone.column, *at_px,
                    float(stars.snr[star]), float(stars.peak_share[star]), light,
                )
            )  # fmt: skip
    return tuple(crops)


def _half_px(found: Detections, motion: Motion) -> int:
    reach = [
        math.hypot(zone.length_px, math.hypot(*(zone.trail_seen_px or (0.0, 0.0))))
        for zone in motion.zones
        if zone.length_px is not None
    ]
    clear = found.stars.snr >= LEAST_SNR
    if not reach and np.any(clear):
        reach = [float(np.nanmedian(found.stars.length_px[clear]))]
    longest = max(reach, default=0.0)
    return int(np.clip(math.ceil(ROOM * longest) + 2, LEAST_HALF_PX, MOST_HALF_PX))


def _typical(frame: Frame, found: Detections, matched: Flags, zone: Zone, half: int) -> int | None:
    stars = found.stars
    cell_x, cell_y = frame.width_px / ZONE_COLUMNS, frame.height_px / ZONE_ROWS
    # Its own cell, also where it was measured together with the one beside it.
    good = np.abs(stars.x_px + 0.5 - (zone.column + 0.5) * cell_x) <= cell_x / 2
    good &= np.abs(stars.y_px + 0.5 - (zone.row + 0.5) * cell_y) <= cell_y / 2
    good &= (stars.snr >= LEAST_SNR) & (stars.peak_share < CLIPPED_SHARE) & (stars.edge == 0)
    good &= np.isfinite(stars.length_px) & np.isfinite(stars.width_px)
    good &= np.minimum(stars.x_px, frame.width_px - 1 - stars.x_px) > half + MARGIN
    good &= np.minimum(stars.y_px, frame.height_px - 1 - stars.y_px) > half + MARGIN
    # Lamps and branches are no catalogue stars.
    good &= matched
    chosen = np.flatnonzero(good)
    if chosen.size == 0:
        return None
    chosen = chosen[alone(found.stars, chosen, 1.5 * half)]
    if chosen.size == 0:
        return None
    bright = chosen[np.argsort(-stars.snr[chosen], kind="stable")][:BRIGHTEST]
    away = np.hypot(
        np.log(stars.length_px[bright] / np.median(stars.length_px[bright])),
        np.log(stars.width_px[bright] / np.median(stars.width_px[bright])),
    )
    return int(bright[np.argmin(away)])


def alone(stars: FoundStars, chosen: Indices, reach_px: float) -> Flags:
    """Return which of the chosen stars have no other within reach that would spoil their crop."""
    tree = cKDTree(np.column_stack([stars.x_px, stars.y_px]))
    clear = np.ones(chosen.size, dtype=bool)
    for k, star in enumerate(chosen):
        near = tree.query_ball_point([stars.x_px[star], stars.y_px[star]], reach_px)
        clear[k] = all(n == star or stars.snr[n] < QUIET * stars.snr[star] for n in near)
    return clear


def green_light(
    frame: Frame, at_px: tuple[float, float], size_px: tuple[float, float], half_px: int
) -> Floats32:
    """Return a star's green light above the sky on whole raw pixels, gaps filled from all colours.

    at_px: its centre (x, y); size_px: its length and width, by which the filling knows how smooth
    it is. The answer is (2 half_px + 1, 2 half_px + 1) counts, the star's pixel in the middle; the
    star must stand farther than half_px + MARGIN from the frame's edges.
    """
    x, y = at_px
    patch = cut(frame, x, y, half_px + MARGIN)
    radius = half_px / APERTURE_LENGTHS
    ground = background(patch, x, y, radius)
    net = above_background(patch, ground, x, y)
    inside = distance(patch, x, y) <= radius
    ties = fit_ties(patch, net, inside, GREEN, size_px[0], max(size_px[0] * size_px[1], 2.0)).ties
    net, _ = without_hot_pixels(net, ground.noise, patch, ties.ratio)
    kernel = kernels(patch.pattern, ties, SMOOTH_PX)
    rebuilt = predict(net / ties.ratio[patch.colour], patch.places, kernel)
    return np.asarray(rebuilt, dtype=np.float32)
