"""Whether a picture whose stars are placed badly lies on the reference's own pixels after all."""

from __future__ import annotations

import cmath
import math
from dataclasses import replace

import numpy as np
from scipy.ndimage import gaussian_filter, map_coordinates

from nightglass.finish.placing.align import Placement
from nightglass.finish.placing.patterns import Complex, Similarity
from nightglass.optics.arrays import Floats, Floats32

BAD_SCATTER_PX = 0.1
"""Stars of an untouched picture scatter by under 0.05 px."""
NEAR_SCALE, NEAR_DEGREES = 0.002, 0.1
REACH_PX = 3
SMOOTH_PX, SLOPE_PX = 2.0, 8.0
"""So wide that drawing between samples blurs little more: smoothed pictures like blur."""
MARGIN = 1.2
"""Unlikeness that whole pixels may have over the placement by stars."""
MOST_PIXELS = 30_000


def on_whole_pixels(place: Placement, picture: Floats32, reference: Floats32) -> Placement:
    """Return the placement, or the one on whole pixels near to it on which the light agrees better.

    picture, reference: light, (rows, columns). Smoothing flattens and moves stars, yet an export
    of full size keeps its pixels: the likeness of all the light decides, stars, grain and slopes.
    """
    like = place.similarity
    quarter = round(math.degrees(cmath.phase(like.a)) / 90)
    turn = 1j**quarter
    off = abs(math.degrees(cmath.phase(like.a / turn)))
    if place.scatter_px < BAD_SCATTER_PX or abs(like.scale - 1) > NEAR_SCALE or off > NEAR_DEGREES:
        return place
    z, values = _sampled(picture)
    smooth = _band(reference)
    best, best_likeness = place, 1 - MARGIN * (1 - _likeness(values, smooth, place(z)))
    middle = complex(round((picture.shape[1] - 1) / 2), round((picture.shape[0] - 1) / 2))
    goal = complex(place(np.array([middle]))[0])
    turned = turn * (middle.conjugate() if like.mirrored else middle)
    start = complex(round((goal - turned).real), round((goal - turned).imag))
    for y, x in np.ndindex(2 * REACH_PX + 1, 2 * REACH_PX + 1):
        shift = start + complex(x - REACH_PX, y - REACH_PX)
        moved = Similarity(turn, shift, like.mirrored)
        likeness = _likeness(values, smooth, moved(z))
        if likeness > best_likeness:
            best = replace(place, similarity=moved, bend=None, bend_px=0.0)
            best_likeness = likeness
    return best


def _sampled(picture: Floats32) -> tuple[Complex, Floats]:
    """Places and smoothed light of evenly spread pixels."""
    step = max(math.isqrt(picture.size // MOST_PIXELS), 1)
    y, x = np.mgrid[2 : picture.shape[0] - 2 : step, 2 : picture.shape[1] - 2 : step]
    smooth = _band(picture)
    return (x + 1j * y).ravel(), smooth[y, x].ravel().astype(np.float64)


def _band(light: Floats32) -> Floats32:
    """Stars and coarse grain, without the slopes of the sky, which a shift hardly changes."""
    return np.asarray(gaussian_filter(light, SMOOTH_PX) - gaussian_filter(light, SLOPE_PX))


def _likeness(values: Floats, reference: Floats32, z: Complex) -> float:
    """Correlation of the light at places of the reference."""
    inside = (z.real > 0) & (z.real < reference.shape[1] - 1)
    inside &= (z.imag > 0) & (z.imag < reference.shape[0] - 1)
    own = values[inside]
    other = map_coordinates(reference, [z.imag[inside], z.real[inside]], order=1)
    if own.std() == 0 or other.std() == 0:
        return -1.0
    return float(np.corrcoef(own, other)[0, 1])
