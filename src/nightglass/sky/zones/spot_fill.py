"""What a two-part spot misses, taken up by small round bumps drawn along each star's own path.

Real spots are no two Gaussians, so a sample at p, of colour c, of one star is drawn as

    light_c * [ S(p) + sum_b h_b * g_b(p) ] + level           . . . . . .    coarse bumps all over,
                                                              . .:::::. .    fine ones where the
S the two-part spot, g_b a round Gaussian of light 1, both    . .:::::. .    spot is bright, and two
drawn along the star's trail; h_b the bump's share of the     . . . . . .    wide halos

light, one for all stars of the zone. Least is made of

    sum (weight * miss)^2 + sum_b (h_b / prior_b)^2 + (sum_b h_b / PRIOR_SUM)^2

with each star's own light, level and place projected out. Where the stars say little, the prior
keeps the two-part spot. Of the motion m = (rate, drift x, drift y), with h eliminated, N the
normal matrix and r its right side, there stays

    information = N_mm - N_mh N_hh^-1 N_hm,    slope = r_m - N_mh N_hh^-1 r_h

A motion that is not the stars' own can't be taken up by one h in all of them, nor can it hide in a
spot that may have any shape: this is what tells lens from motion.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from nightglass.optics.arrays import Floats
from nightglass.optics.compiled import compiled
from nightglass.optics.extent import MAD_TO_SIGMA
from nightglass.sky.zones.drawn_spot import (
    SHAPE,
    gaussian_along,
    part_along,
    spot_density,
    spot_derivatives,
)
from nightglass.sky.zones.joint_fit import ZoneFit, rough_length
from nightglass.sky.zones.trail_fit import COMMON, SOFT, into_spot, out_of_spot, star_light
from nightglass.sky.zones.zone import Group

GRID_SHARE = 0.2
"""Spacing of the coarse bumps over the spot's length."""
COARSE_PX = (0.8, 3.0)
"""Least and most of that spacing."""
FINEST_PX, MOST_FINE = 0.5, 110
"""Spacing of the fine bumps, wider where that would make more of them: each costs time."""
BRIGHT_SHARE = 0.05
"""Share of the brightest place from which there are fine bumps."""
BUMP = 0.6
"""Deviation of a bump over their spacing."""
PRIOR = (0.4, 3e-4)
"""Prior deviation of a bump: over the light that the two-part spot has there, and, where that has
none, over its whole light. Simple spots tell motion from lens."""
WIDE_PRIOR = (1.0, 3e-3)
"""The same for a lens's own size, the motion known: weak stars would lose their tails else."""
HALO_LENGTHS = (0.6, 1.2)
"""Deviations of two wide round halos over the spot's length: light that lens and sensor scatter."""
PRIOR_SUM = 0.05
"""Of all bumps together: a spot's light is free for each star, so that bumps could take all of it
away."""
PRIOR_HALO = 0.02
"""Prior deviation of each halo's share of the light."""
LEVEL_SHARE = 0.1
"""How far the sky beside one star may differ from that of the zone's other stars, of the noise."""
THIRDS = np.array([-1.0, 0.0, 1.0]) / 3


@dataclass(frozen=True)
class Filled:
    """A zone's spot with its bumps, and what its stars say of the motion."""

    parts: Floats
    """Place x, y and deviation of every bump and halo, (n, 3)."""
    heights: Floats
    """Light of each, of the two-part spot's whole light."""
    covariance: Floats
    miss: float
    """Scatter of the samples about the spot over what their noise is."""
    squares: float
    """Sum of squares that is left, the prior's among them."""
    information: Floats
    """(3, 3) of rate and drift, everything else of the zone eliminated."""
    slope: Floats
    """(3,): the step of rate and drift is information^-1 times the sum of the slopes."""


@dataclass(frozen=True)
class _Seen:
    """What the samples of a zone say, without any prior: normal equations, misses."""

    normal: Floats
    right: Floats
    squares: float
    left: list[Floats]


def fill(group: Group, fit: ZoneFit, motion: Floats, before: Filled | None = None) -> Filled:
    """Return the bumps of a zone at a motion (rate, drift x, drift y).

    before: bumps to go on from, of the same zone.
    """
    shape = fit.lens[:SHAPE]
    if before is None:
        parts = spot_parts(shape, rough_length(shape))
        heights = np.zeros(len(parts))
    else:
        parts, heights = before.parts, before.heights
    seen = _seen(group, fit, motion, parts, heights)
    return _solved(parts, heights, priors(shape, parts), seen)


def fill_lens(group: Group, fit: ZoneFit, motion: Floats) -> tuple[Filled, Filled]:
    """Return the bumps of a zone whose motion is known, with WIDE_PRIOR and with PRIOR."""
    shape = fit.lens[:SHAPE]
    parts = spot_parts(shape, rough_length(shape))
    heights = np.zeros(len(parts))
    seen = _seen(group, fit, motion, parts, heights)
    wide, narrow = (
        _solved(parts, heights, priors(shape, parts, width), seen) for width in (WIDE_PRIOR, PRIOR)
    )
    return wide, narrow


def _seen(group: Group, fit: ZoneFit, motion: Floats, parts: Floats, heights: Floats) -> _Seen:
    # After the parts: the sky of the zone above its tiles' level, of which nothing is known, and
    # rate and drift.
    count = len(parts) + 1 + COMMON
    normal, right, squares = np.zeros((count, count)), np.zeros(count), 0.0
    left = []
    for star in range(len(group.places)):
        samples = group.samples[group.first[star] : group.first[star + 1]]
        samples = samples[samples[:, 3] > 0]
        if len(samples) == 0:
            continue
        trail = motion[0] * group.trails[star] + motion[1:]
        turn = group.turns[star]
        miss, own, columns = star_columns(
            fit.lens, fit.places[star], (turn, trail), samples, parts, heights, LEVEL_SHARE
        )
        columns = _by_motion(columns, group.trails[star], turn)
        weight = 1 / np.sqrt(np.sqrt(1 + (miss / SOFT) ** 2))
        weight[-1] = 1.0
        # What the star's own light, level and place can take up says nothing of the spot.
        base = np.linalg.qr(own * weight[:, None])[0]
        seen = columns * weight[:, None]
        rest = miss * weight
        seen -= base @ (base.T @ seen)
        rest = rest - base @ (base.T @ rest)
        normal += seen.T @ seen
        right += seen.T @ rest
        squares += float(rest @ rest)
        left.append(miss[:-1])
    return _Seen(normal, right, squares, left)


def _by_motion(columns: Floats, sky: Floats, turn: Floats) -> Floats:
    """Turn the last two columns, by the line's ends in the spot, into three, by rate and drift."""
    ends = np.column_stack(out_of_spot(columns[:, -2], columns[:, -1], turn))
    return np.column_stack([columns[:, :-2], ends @ sky, ends])


def _solved(parts: Floats, heights: Floats, prior: Floats, seen: _Seen) -> Filled:
    count, inner = len(parts), len(parts) + 1
    normal, right = seen.normal.copy(), seen.right.copy()
    normal[range(count), range(count)] += 1 / prior**2
    normal[:count, :count] += 1 / PRIOR_SUM**2
    normal[count, count] += 1e-12
    right[:count] -= heights / prior**2 + heights.sum() / PRIOR_SUM**2
    squares = seen.squares + float(np.sum((heights / prior) ** 2))
    squares += float(heights.sum() / PRIOR_SUM) ** 2
    inverse = np.linalg.inv(normal[:inner, :inner])
    step = inverse @ right[:inner]
    mixed = normal[:inner, inner:]
    left = seen.left
    scatter = MAD_TO_SIGMA * float(np.median(np.abs(np.concatenate(left)))) if left else 1.0
    wide = max(1.0, scatter) ** 2
    return Filled(
        parts=parts,
        heights=heights + step[:-1],
        covariance=np.asarray(inverse[:-1, :-1] * wide),
        miss=scatter,
        squares=squares - float(right[:inner] @ step),
        information=np.asarray((normal[inner:, inner:] - mixed.T @ inverse @ mixed) / wide),
        slope=np.asarray((right[inner:] - mixed.T @ step) / wide),
    )


def spot_parts(shape: Floats, length_px: float) -> Floats:
    """Return place x, y and deviation of every bump and halo (n, 3).

    Bumps lie finer where the spot is bright: there the samples tell more, and a nucleus has its
    edges.
    """
    length = max(length_px, 3.0)
    coarse = min(max(GRID_SHARE * length_px, COARSE_PX[0]), COARSE_PX[1])
    fine, inner = FINEST_PX, np.zeros((MOST_FINE + 1, 2))
    while len(inner) > MOST_FINE:
        inner = _grid(fine, 1.1 * length)
        bright = density_at(inner, fine * THIRDS, shape)
        inner = inner[bright > BRIGHT_SHARE * bright.max()]
        fine_now, fine = fine, fine * 1.15
    fine = fine_now
    places = _grid(coarse, 1.1 * length)
    halos = [share * length for share in HALO_LENGTHS]
    deviations = [BUMP * coarse] * len(places) + [BUMP * fine] * len(inner) + halos
    where = np.concatenate([places, inner, np.zeros((len(halos), 2))])
    return np.column_stack([where, deviations])


def priors(shape: Floats, parts: Floats, prior_of: tuple[float, float] = PRIOR) -> Floats:
    """Return the prior deviation of each part's light, of the whole light (n,)."""
    prior = np.full(len(parts), PRIOR_HALO)
    bumps = len(parts) - len(HALO_LENGTHS)
    for sigma in np.unique(parts[:bumps, 2]):
        chosen = np.flatnonzero(parts[:bumps, 2] == sigma)
        spacing = sigma / BUMP
        light = density_at(parts[chosen, :2], spacing * THIRDS, shape) * spacing**2
        prior[chosen] = prior_of[0] * light + prior_of[1]
    return prior


def _grid(spacing: float, reach: float) -> Floats:
    """Places (n, 2) of a square grid about the centre within a reach."""
    axis = spacing * np.arange(-math.ceil(reach / spacing), math.ceil(reach / spacing) + 1)
    x, y = (v.ravel() for v in np.meshgrid(axis, axis))
    inside = np.hypot(x, y) <= reach
    return np.column_stack([x[inside], y[inside]])


@compiled
def density_at(places, offsets, shape):  # type: ignore[no-untyped-def]
    """Mean density of a spot over a square of offsets about each place."""
    out = np.zeros(places.shape[0])
    for k in range(places.shape[0]):
        for dx in offsets:
            for dy in offsets:
                out[k] += spot_density(places[k, 0] + dx, places[k, 1] + dy, shape, 0.0, 0.0)
    return out / offsets.size**2


@compiled
def star_columns(lens, place, drawn, samples, parts, heights, level_share):  # type: ignore[no-untyped-def]
    """Return a star's weighted misses (n + 1,), its own columns (n + 1, 6), and those it shares.

    drawn: the star's turn (zones.Group) and its trail x, y. Shared: the parts, the zone's level,
    the ends of the line x, y in coordinates of the spot. The last row holds the star's
    level to that of its zone.
    """
    n, count = samples.shape[0], parts.shape[0]
    table = np.zeros((n, 14))
    one, two = np.empty(8), np.empty(8)
    columns = np.zeros((n + 1, count + 3))
    quiet = 0.0
    turn = drawn[0]
    trail = into_spot(drawn[1][0], drawn[1][1], turn)
    wide, high = 0.5 * abs(trail[0]), 0.5 * abs(trail[1])
    for k in range(n):
        c = int(samples[k, 4])
        dx, dy = into_spot(samples[k, 0] - place[0], samples[k, 1] - place[1], turn)
        if c != 1:
            dx, dy = dx - lens[SHAPE + c], dy - lens[SHAPE + c + 1]
        spot_derivatives(dx, dy, lens, trail[0], trail[1], one, two, table[k])
        for b in range(count):
            factor = (parts[b, 2], 0.0, parts[b, 2])
            x, y = dx - parts[b, 0], dy - parts[b, 1]
            if abs(x) > 5 * parts[b, 2] + wide or abs(y) > 5 * parts[b, 2] + high:
                continue
            if heights[b] == 0.0:
                columns[k, b] = gaussian_along(x, y, factor, trail[0], trail[1])
                continue
            sigma = math.log(parts[b, 2])
            part_along(x, y, sigma, 0.0, sigma, trail[0], trail[1], one)
            columns[k, b] = one[0]
            table[k, 0] += heights[b] * one[0]
            table[k, 1] += heights[b] * one[1]
            table[k, 2] += heights[b] * one[2]
            table[k, 12] += heights[b] * one[6]
            table[k, 13] += heights[b] * one[7]
        quiet = max(quiet, samples[k, 3])
    light, level = star_light(table, samples)
    miss = np.empty(n + 1)
    own = np.zeros((n + 1, 6))
    for k in range(n):
        c, w = int(samples[k, 4]), samples[k, 3]
        miss[k] = (samples[k, 2] - light[c] * table[k, 0] - level) * w
        own[k, c] = table[k, 0] * w
        own[k, 3] = w
        scale = light[c] * w
        own[k, 4], own[k, 5] = -scale * table[k, 1], -scale * table[k, 2]
        for b in range(count):
            columns[k, b] *= scale
        columns[k, count + 1], columns[k, count + 2] = scale * table[k, 12], scale * table[k, 13]
    own[n, 3] = quiet / level_share
    columns[n, count] = -quiet / level_share
    miss[n] = -level * quiet / level_share
    return miss, own, columns
