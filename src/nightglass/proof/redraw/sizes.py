"""A bench spot put in the place of a frame's stars, and both measured by the same code."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from nightglass.bench.records import ZoneResult
from nightglass.optics.arrays import Floats
from nightglass.optics.extent import LONG_RATIO, MAD_TO_SIGMA
from nightglass.proof.records import RedrawnSize
from nightglass.proof.redraw.redrawn import Pairs, redrawn, stars_about
from nightglass.proof.redraw.stars import LEAST_SNR
from nightglass.proof.sight import Sight
from nightglass.sky.zones.typical import LEAST_HALF_PX, MOST_HALF_PX, ROOM

HALF_SIDES_PERCENT = (12.0, 18.0, 25.0)
"""Half of the square about the place, % of picture height: the smallest with enough stars."""
ENOUGH_STARS, LEAST_STARS = 80, 12
SCATTER, SCATTER_SNR = 0.10, 8.0
"""Scatter of ln(size) from star to star: of neighbours and the field, and times 1 / SNR. They
only weigh the stars; the error comes from the stars' own scatter."""
METHOD_LOG_ERR = 0.01
"""Error of ln(ratio) by the redrawing itself: six fields whose spots were known came out 1.4 % off,
root mean square, where the stars' own scatter said 1.0 (design/redrawn_fields.py)."""
ROUNDS = 8
LEAST_PULL = 0.3
CUT = 3.0
PICTURE_HALF_PERCENT = 0.6
"""Half side of the crops, % of picture height: a tile shows spots of up to 1 %, poor ones."""


def redrawn_sizes(
    sight: Sight, zones: Sequence[ZoneResult], picture_height_px: float
) -> tuple[RedrawnSize, ...]:
    """Return each bench place whose spot has a size, compared with the frame's stars about it.

    Places about which fewer than 12 single stars of SNR 25 stand are left out.
    """
    found = []
    half_px = _picture_half_px(sight, zones, picture_height_px)
    for number, zone in enumerate(zones):
        if zone.stamp is None or zone.length_px.value is None:
            continue
        at_px = zone.x_px, zone.y_px
        halves = [percent / 100 * picture_height_px for percent in HALF_SIDES_PERCENT]
        enough = (half for half in halves if stars_about(sight, at_px, half) >= ENOUGH_STARS)
        side_px = next(enough, halves[-1])
        pairs = redrawn(sight, at_px, side_px, zone.stamp, seed=number, picture_half_px=half_px)
        if len(pairs) >= LEAST_STARS:
            found.append(replace(redrawn_size(zone.place, pairs), picture=pairs.picture))
    return tuple(found)


def _picture_half_px(sight: Sight, zones: Sequence[ZoneResult], picture_height_px: float) -> int:
    """Half side of all crops of a frame: a share of the height, more for stars that need it."""
    stars = sight.found.stars
    clear = (stars.snr >= LEAST_SNR) & np.isfinite(stars.length_px)
    reach = [float(np.percentile(stars.length_px[clear], 90))] if np.any(clear) else []
    for zone in zones:
        if zone.length_px.value is not None:
            trail = sight.trails(np.array([zone.x_px]), np.array([zone.y_px]))[0]
            reach.append(math.hypot(zone.length_px.value, *np.nan_to_num(trail)))
    usual = math.ceil(PICTURE_HALF_PERCENT / 100 * picture_height_px)
    needed = math.ceil(ROOM * max(reach, default=0.0)) + 2
    return int(np.clip(max(usual, needed), LEAST_HALF_PX, MOST_HALF_PX))


def redrawn_size(place: str, pairs: Pairs) -> RedrawnSize:
    """Return sky over bench at the place itself, from stars about it.

    The logarithm of the ratio is fitted as a plane over the frame, because a spot changes with
    its place; what lies far off the plane (pairs, lamps) counts for nothing. Raises ValueError
    for fewer stars than a plane with an error takes.
    """
    if len(pairs) < LEAST_STARS:
        raise ValueError(f"{len(pairs)} stars about {place}; it takes {LEAST_STARS}")
    sky, drawn = _sizes(pairs)
    logs = np.log(sky / drawn)
    design = np.column_stack([np.ones(len(pairs)), pairs.away_x, pairs.away_y])
    known = 1 / (SCATTER**2 + (SCATTER_SNR / pairs.sky_snr) ** 2)
    weight = known.copy()
    answer = np.zeros(3)
    for _ in range(ROUNDS):
        root = np.sqrt(weight)
        answer = np.linalg.lstsq(design * root[:, None], logs * root, rcond=None)[0]
        miss = (logs - design @ answer) * np.sqrt(known)
        spread = max(MAD_TO_SIGMA * float(np.median(np.abs(miss))), 0.1)
        # Tukey's biweight: smooth, and nothing from what lies far off.
        square = np.minimum((miss / (CUT * 1.5 * spread)) ** 2, 1.0)
        weight = known * (1 - square) ** 2
    log_err, freedom = _error(design, weight, logs - design @ answer)
    # How fast the pull of a star grows with its miss, over its weight: a fit that listens less to
    # what lies off knows less than its weights say (Huber 1981, Robust Statistics, section 7.6).
    pull = float(np.sum(known * (1 - square) * (1 - 5 * square)) / weight.sum())
    log_err /= max(pull, LEAST_PULL)
    middle = float(np.exp(np.average(np.log(drawn), weights=weight)))
    return RedrawnSize(
        place=place,
        stars=int(np.count_nonzero(weight > 0)),
        log_ratio=float(answer[0]),
        log_err=math.hypot(log_err, METHOD_LOG_ERR),
        freedom=freedom,
        bench_px=middle,
        sky_px=middle * math.exp(float(answer[0])),
    )


def _sizes(pairs: Pairs) -> tuple[Floats, Floats]:
    long = min(
        float(np.median(pairs.sky_length_px / pairs.sky_width_px)),
        float(np.median(pairs.drawn_length_px / pairs.drawn_width_px)),
    )
    if long > LONG_RATIO:
        return pairs.sky_length_px, pairs.drawn_length_px
    return (
        np.sqrt(pairs.sky_length_px * pairs.sky_width_px),
        np.sqrt(pairs.drawn_length_px * pairs.drawn_width_px),
    )


def _error(design: Floats, weight: Floats, miss: Floats) -> tuple[float, float]:
    """1-sigma error of the plane at the place, from the stars' own scatter, and its freedom.

    How often intervals from it hold a planted ratio: design/like_stars.py.
    """
    bread = np.linalg.inv((design * weight[:, None]).T @ design)
    # Leverages widen the few stars that stand alone on one side (HC3 of the literature on
    # regressions of unequal scatter: MacKinnon & White 1985, J. Econometrics 29, 305).
    lever = np.einsum("ij,jk,ik->i", design, bread, design) * weight
    own = weight * miss / np.maximum(1 - lever, 0.1)
    meat = (design * own[:, None] ** 2).T @ design
    used = float(weight.sum() ** 2 / np.sum(weight**2))
    return math.sqrt(float((bread @ meat @ bread)[0, 0])), max(used - 3.0, 1.0)
