"""Normal equations of a zone: one spot, drawn along each star's own path, against all samples.

Each star's light per colour, level and place are its own and are eliminated star by star; what
remains are the zone's spot, its colour shifts, and the motion that all zones have in common.
"""

from __future__ import annotations

import math

import numpy as np

from nightglass.optics.compiled import compiled
from nightglass.sky.zones.drawn_spot import SHAPE, spot_derivatives

LENS = SHAPE + 4
"""Parameters of a zone's lens: the spot's, then shift of red x, y and of blue x, y [px]."""
COMMON = 3
"""Parameters of the motion: rate of the sky's, drift x, y [px]."""
ALL = LENS + COMMON
OWN = 6
"""Of a star: light in red, green, blue; level; place x, y."""
SOFT = 3.0
"""Misses beyond this many deviations count less (pseudo-Huber)."""


@compiled
def into_spot(x, y, turn):  # type: ignore[no-untyped-def]
    """Return a vector of the frame in the coordinates of the zone's spot; see zones.Group."""
    return turn[0] * x + turn[1] * y, turn[0] * y - turn[1] * x


@compiled
def out_of_spot(x, y, turn):  # type: ignore[no-untyped-def]
    """Return derivatives by a vector of the frame from those in coordinates of the zone's spot."""
    return turn[0] * x - turn[1] * y, turn[1] * x + turn[0] * y


@compiled
def _star_table(lens, motion, place, sky, turn, samples, table):  # type: ignore[no-untyped-def]
    """Fill a table with the density of a star's spot at each sample, and its derivatives."""
    one, two = np.empty(8), np.empty(8)
    tx, ty = motion[0] * sky[0] + motion[1], motion[0] * sky[1] + motion[2]
    tx, ty = into_spot(tx, ty, turn)
    for k in range(samples.shape[0]):
        c = int(samples[k, 4])
        dx, dy = into_spot(samples[k, 0] - place[0], samples[k, 1] - place[1], turn)
        if c == 0:
            dx, dy = dx - lens[SHAPE], dy - lens[SHAPE + 1]
        elif c == 2:
            dx, dy = dx - lens[SHAPE + 2], dy - lens[SHAPE + 3]
        spot_derivatives(dx, dy, lens, tx, ty, one, two, table[k])


@compiled
def zone_normal(lens, motion, places, sky, first, samples, turns):  # type: ignore[no-untyped-def]
    """Return cost, normal matrix (ALL, ALL), right side (ALL), and how each star's place follows.

    lens: (LENS,). motion: (COMMON,). places, sky: (stars, 2) places and trails of the sky [px].
    first: (stars + 1,) index of each star's first sample. samples: (n, 5): x, y, counts above the
    sky, 1 / error, colour. turns: (stars, 2), see zones.Group. The last array returned,
    (stars, 2, ALL + 1), holds the step of x, y: the first number less the others times the step
    of the parameters.
    """
    stars = places.shape[0]
    most = 0
    for s in range(stars):
        most = max(most, first[s + 1] - first[s])
    table = np.empty((most, 14))
    normal = np.zeros((ALL, ALL))
    right = np.zeros(ALL)
    follow = np.zeros((stars, 2, ALL + 1))
    cost = 0.0
    whole = np.empty((OWN + ALL, OWN + ALL))
    side = np.empty(OWN + ALL)
    for s in range(stars):
        begin, count = first[s], first[s + 1] - first[s]
        own = samples[begin : begin + count]
        _star_table(lens, motion, places[s], sky[s], turns[s], own, table)
        light, level = star_light(table, own)
        cost += _gathered(table, own, light, level, sky[s], turns[s], whole, side)
        _eliminate(whole, side, normal, right, follow[s])
    return cost, normal, right, follow


@compiled
def star_light(table, samples):  # type: ignore[no-untyped-def]
    """Light per colour and level of a star by least squares; table[:, 0] is the spot's density."""
    own = np.zeros(3)
    mixed = np.zeros(3)
    product = np.zeros(3)
    weight, total = 0.0, 0.0
    for k in range(samples.shape[0]):
        c = int(samples[k, 4])
        w2 = samples[k, 3] * samples[k, 3]
        g = table[k, 0]
        own[c] += w2 * g * g
        mixed[c] += w2 * g
        product[c] += w2 * g * samples[k, 2]
        weight += w2
        total += w2 * samples[k, 2]
    # Colours meet only in the level: eliminate them one by one.
    top, bottom = total, weight
    for c in range(3):
        if own[c] > 0:
            top -= mixed[c] * product[c] / own[c]
            bottom -= mixed[c] * mixed[c] / own[c]
    level = top / bottom if bottom > 1e-9 * weight else 0.0
    light = np.zeros(3)
    for c in range(3):
        if own[c] > 0:
            light[c] = (product[c] - mixed[c] * level) / own[c]
    return light, level


@compiled
def _gathered(table, samples, light, level, sky, turn, whole, side):  # type: ignore[no-untyped-def]
    """Fill a star's own normal equations; return its cost."""
    size = OWN + ALL
    whole[:] = 0.0
    side[:] = 0.0
    v = np.zeros(size)
    cost = 0.0
    for k in range(samples.shape[0]):
        w = samples[k, 3]
        if w == 0.0:
            continue
        c = int(samples[k, 4])
        row = table[k]
        r = (samples[k, 2] - light[c] * row[0] - level) * w
        bent = math.sqrt(1 + (r / SOFT) * (r / SOFT))
        cost += 2 * SOFT * SOFT * (bent - 1)
        weight = w * w / bent
        v[0], v[1], v[2] = 0.0, 0.0, 0.0
        v[c] = row[0]
        v[3] = 1.0
        right, down = out_of_spot(row[1], row[2], turn)
        v[4], v[5] = -light[c] * right, -light[c] * down
        for a in range(SHAPE):
            v[OWN + a] = light[c] * row[3 + a]
        for a in range(OWN + SHAPE, OWN + LENS):
            v[a] = 0.0
        if c != 1:
            a = OWN + SHAPE + c
            v[a], v[a + 1] = -light[c] * row[1], -light[c] * row[2]
        right, down = out_of_spot(row[12], row[13], turn)
        v[size - 2], v[size - 1] = light[c] * right, light[c] * down
        v[size - 3] = sky[0] * v[size - 2] + sky[1] * v[size - 1]
        miss = (samples[k, 2] - light[c] * row[0] - level) * weight
        for a in range(size):
            side[a] += v[a] * miss
            t = v[a] * weight
            if t != 0.0:
                for b in range(a, size):
                    whole[a, b] += t * v[b]
    for a in range(size):
        for b in range(a):
            whole[a, b] = whole[b, a]
    return cost


@compiled
def _eliminate(whole, side, normal, right, follow):  # type: ignore[no-untyped-def]
    """Take a star's own parameters out and add what is left to the zone's equations."""
    own = whole[:OWN, :OWN].copy()
    for a in range(OWN):
        own[a, a] += 1e-9 * own[a, a] + 1e-30
    mixed = np.empty((OWN, ALL + 1))
    mixed[:, 0] = side[:OWN]
    mixed[:, 1:] = whole[:OWN, OWN:]
    solved = np.linalg.solve(own, mixed)
    for a in range(ALL):
        for k in range(OWN):
            right[a] -= whole[OWN + a, k] * solved[k, 0]
        right[a] += side[OWN + a]
        for b in range(ALL):
            value = whole[OWN + a, OWN + b]
            for k in range(OWN):
                value -= whole[OWN + a, k] * solved[k, 1 + b]
            normal[a, b] += value
    follow[:] = solved[4:6]


@compiled
def misses(lens, motion, places, sky, first, samples, turns):  # type: ignore[no-untyped-def]
    """Return the weighted miss of every sample after fitting each star's light and level."""
    out = np.zeros(samples.shape[0])
    for s in range(places.shape[0]):
        begin, count = first[s], first[s + 1] - first[s]
        own = samples[begin : begin + count]
        table = np.empty((count, 14))
        _star_table(lens, motion, places[s], sky[s], turns[s], own, table)
        light, level = star_light(table, own)
        for k in range(count):
            c = int(samples[begin + k, 4])
            miss = samples[begin + k, 2] - light[c] * table[k, 0] - level
            out[begin + k] = miss * samples[begin + k, 3]
    return out
