"""A part of a frame drawn once more with another lens's spot, and measured by the same code.

Every star keeps its place between the samples, its light in each colour, its trail, its
neighbours down to the catalogue's end, and the noise of its sky; only the spot is another one.
What the measuring does to real stars it does to these too, so its bias falls out of a comparison.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import ndimage
from scipy.spatial import cKDTree

from nightglass.frame.record import Frame
from nightglass.light.counts import magnitude_g_at_count, stars_per_square_degree
from nightglass.sky.find import FoundStars, find_stars
from nightglass.sky.refine import catalogue_vectors, stars_in_frame
from nightglass.sky.sight import Sight, colour_ratios
from nightglass.sky.skylevel import Array32, level_at, noise_at
from nightglass.sky.trailedspot import TrailedSpot

Array = NDArray[np.float64]

LEAST_SNR = 25.0
"""From which a star's size is compared."""
MOST_PEAK = 0.9
"""Share of the clipping level from which a star is left out."""
CATALOGUE_G, FAINTEST_G = 10.0, 11.0
"""To where the catalogue is whole, and to where stars are added at random."""
SKY_STEP_PX = 16
SAME_STAR_PX = 2.5
MOST_OFF_MAG = 0.75
"""Light against the catalogue's from which a found star is not that one alone."""
TURN_STEP_DEGREES = 4.0
"""The spot is turned about the optical centre in steps of this, so that it needs few turnings."""
NOT_TURNED_RADIUS = 0.05
"""Field radius under which a spot has no direction to turn with."""


@dataclass(frozen=True)
class Pairs:
    """Stars measured on the sky and redrawn, arrays of one value per star [px]."""

    away_x: Array
    """Right of the place, in half diagonals of the frame."""
    away_y: Array
    """Below the place."""
    sky_length_px: Array
    sky_width_px: Array
    sky_snr: Array
    drawn_length_px: Array
    """Mean over the copies."""
    drawn_width_px: Array
    drawn_snr: Array

    def __len__(self) -> int:
        return int(self.sky_snr.size)


def redrawn(
    sight: Sight,
    at_px: tuple[float, float],
    half_side_px: float,
    spot: ArrayLike,
    copies: int = 2,
    seed: int = 0,
) -> Pairs:
    """Return the recognised, unclipped stars of SNR 25 and more about a place, measured twice.

    at_px: place (x, y) at which the spot was taken; half_side_px: of the square about it that is
    redrawn. spot: (rows, columns) with odd sides, 1 px steps, its light about the central sample;
    it is turned about the optical centre to each star's own direction. copies: how often the
    square is drawn, with fresh noise. Raises ValueError for a spot without light.
    """
    image = np.asarray(spot, dtype=np.float64)
    if image.ndim != 2 or not image.sum() > 0:
        raise ValueError("the spot holds no light; measure the place on the bench again")
    frame, camera = sight.frame, sight.solution.camera
    box = _box(frame, at_px, half_side_px)
    rng = np.random.default_rng(seed)
    there = _there(sight, box, max(image.shape) / 2, rng)
    if there is None:
        return _no_pairs()
    light = _light(sight, there, image / image.sum(), at_px, box)
    stars = there.compared
    # The real square is measured anew too: what the finding takes from a frame's own stars (its
    # filter, the usual aperture) is then that of the same stars on both sides.
    sky = _measured(_cut(frame, box), stars, box)
    drawn = [_measured(_noisy(sight, light, box, rng), stars, box) for _ in range(copies)]
    length, width, snr = (np.mean([m[k] for m in drawn], axis=0) for k in range(3))
    both = np.isfinite(length + width + sky[0] + sky[1])
    stars = stars.chosen(both)
    return Pairs(
        away_x=(stars.x_px - at_px[0]) / camera.half_diagonal_px,
        away_y=(stars.y_px - at_px[1]) / camera.half_diagonal_px,
        sky_length_px=sky[0][both],
        sky_width_px=sky[1][both],
        sky_snr=sky[2][both],
        drawn_length_px=length[both],
        drawn_width_px=width[both],
        drawn_snr=snr[both],
    )


def stars_about(sight: Sight, at_px: tuple[float, float], half_side_px: float) -> int:
    """Return how many stars of the square about a place may be compared, before they are drawn."""
    return int(
        np.count_nonzero(_comparable(sight.found.stars, _box(sight.frame, at_px, half_side_px)))
    )


NEIGHBOUR_STEPS = 6
"""Places within a pixel, and one trail for all, at which stars that are only neighbours lie."""


Box = tuple[int, int, int, int]
"""Top, bottom, left, right of the square: first sample and last + 1."""


@dataclass(frozen=True)
class _There:
    """The stars in and about the square: the catalogue's, and those found that are compared."""

    x_px: Array
    y_px: Array
    flux: Array
    """Light (n, 3) [counts] were all samples red, green, blue."""
    exact: NDArray[np.bool_]
    """Which are compared; the others only lie in their surroundings."""
    compared: FoundStars


def _no_pairs() -> Pairs:
    none = np.empty(0)
    return Pairs(none, none, none, none, none, none, none, none)


def _box(frame: Frame, at_px: tuple[float, float], half: float) -> Box:
    """A whole number of patterns from the frame's first sample, so that the mosaic stays."""
    p, q = frame.pattern.shape
    top = max(int(at_px[1] - half) // p * p, 0)
    left = max(int(at_px[0] - half) // q * q, 0)
    bottom = min(math.ceil(at_px[1] + half), frame.height_px)
    return top, bottom, left, min(math.ceil(at_px[0] + half), frame.width_px)


def _there(sight: Sight, box: Box, margin: float, rng: np.random.Generator) -> _There | None:
    """All catalogue stars about the square with their light, None where no light is known.

    Neighbours too faint to be found widen the stars beside them: so the catalogue is drawn, not
    what was found.
    """
    solution, stars = sight.solution, sight.found.stars
    index, x, y = stars_in_frame(solution.camera, solution.rotation, CATALOGUE_G)
    near = _inside(x, y, box, -margin)
    x, y, magnitude = x[near], y[near], catalogue_vectors()[1][index[near]]
    good = _comparable(stars, box)
    if x.size == 0 or not np.any(good):
        return None
    tolerance = max(SAME_STAR_PX, 4 * solution.rms_px)
    tree = cKDTree(np.column_stack([stars.x_px, stars.y_px]))
    away, star = (np.asarray(a) for a in tree.query(np.column_stack([x, y])))
    hit = (away < tolerance) & good[np.minimum(star, len(stars) - 1)]
    # The catalogue stands brightest first: a found star is the brightest near it.
    _, first = np.unique(star[hit], return_index=True)
    pairs = np.flatnonzero(hit)[first]
    zero = magnitude[pairs] + 2.5 * np.log10(stars.flux_counts[star[pairs]])
    usual = float(np.median(zero)) if pairs.size else math.nan
    pairs = pairs[np.abs(zero - usual) < MOST_OFF_MAG]
    if pairs.size == 0:
        return None
    compared = stars.chosen(star[pairs])
    ratios = colour_ratios(sight, compared)
    flux = 10 ** (-0.4 * (magnitude - usual))[:, None] * np.median(ratios, axis=0)
    flux[pairs] = compared.flux_counts[:, None] * ratios
    x[pairs], y[pairs] = compared.x_px, compared.y_px
    faint_x, faint_y, faint_g = _fainter(box, margin, magnitude, rng)
    exact = np.zeros(x.size + faint_x.size, dtype=bool)
    exact[pairs] = True
    faint = 10 ** (-0.4 * (faint_g - usual))[:, None] * np.median(ratios, axis=0)
    return _There(
        np.concatenate([x, faint_x]),
        np.concatenate([y, faint_y]),
        np.concatenate([flux, faint]),
        exact,
        compared,
    )


def _fainter(
    box: Box, margin: float, magnitude: Array, rng: np.random.Generator
) -> tuple[Array, Array, Array]:
    """Places and magnitudes of stars beyond the catalogue: at random, as many as the field's own
    number at its end lets expect. Unseen neighbours widen stars on both sides alike."""
    top, bottom, left, right = box
    steps = stars_per_square_degree(np.array([CATALOGUE_G - 1, CATALOGUE_G, FAINTEST_G]))
    last = np.count_nonzero(magnitude > CATALOGUE_G - 1)
    number = rng.poisson(last * (steps[2] - steps[1]) / (steps[1] - steps[0]))
    x = rng.uniform(left - margin, right + margin, number)
    y = rng.uniform(top - margin, bottom + margin, number)
    counts = rng.uniform(steps[1], steps[2], number)
    return x, y, magnitude_g_at_count(counts)


def _inside(x: Array, y: Array, box: Box, room: Array | float) -> NDArray[np.bool_]:
    top, bottom, left, right = box
    return np.asarray(
        (x > left + room) & (x < right - room) & (y > top + room) & (y < bottom - room)
    )


def _comparable(stars: FoundStars, box: Box) -> NDArray[np.bool_]:
    good = (stars.snr >= LEAST_SNR) & (stars.peak_share < MOST_PEAK) & (stars.edge == 0)
    good &= np.isfinite(stars.length_px) & np.isfinite(stars.width_px) & (stars.flux_counts > 0)
    # A star whose ring reaches out of the square would be measured otherwise there.
    return good & _inside(stars.x_px, stars.y_px, box, 2 * stars.aperture_px)


def _light(
    sight: Sight, there: _There, image: Array, at_px: tuple[float, float], box: Box
) -> Array:
    """Star light [counts] in the square, each star drawn with the spot along its own trail."""
    top, bottom, left, right = box
    frame, camera = sight.frame, sight.solution.camera
    light = np.zeros((bottom - top, right - left))
    p, q = frame.pattern.shape
    v, u = np.mgrid[top:bottom, left:right]
    colour = frame.pattern[v % p, u % q]
    trails = sight.trails(there.x_px, there.y_px)
    centre = camera.centre_x_px, camera.centre_y_px
    turns = _turns(at_px, centre, camera.half_diagonal_px, there)
    longest = float(np.nanmax(np.hypot(trails[:, 0], trails[:, 1])))
    turned = {turn: TrailedSpot(_turned(image, turn), longest) for turn in np.unique(turns)}
    usual_trail = np.nanmedian(trails, axis=0)
    kept: dict[tuple[int, int, int], tuple[Array, tuple[int, int]]] = {}
    for k in range(there.x_px.size):
        x, y = there.x_px[k], there.y_px[k]
        shift = np.array([x - round(x), y - round(y)])
        if there.exact[k]:
            spot, middle = turned[turns[k]].drawn(trails[k], shift)
        else:
            rough = np.rint(shift * NEIGHBOUR_STEPS).astype(int)
            key = (int(turns[k]), int(rough[0]), int(rough[1]))
            if key not in kept:
                kept[key] = turned[turns[k]].drawn(usual_trail, rough / NEIGHBOUR_STEPS)
            spot, middle = kept[key]
        first_y, first_x = round(y) - middle[0] - top, round(x) - middle[1] - left
        rows = slice(max(first_y, 0), min(first_y + spot.shape[0], light.shape[0]))
        columns = slice(max(first_x, 0), min(first_x + spot.shape[1], light.shape[1]))
        if rows.start >= rows.stop or columns.start >= columns.stop:
            continue
        part = spot[
            rows.start - first_y : rows.stop - first_y,
            columns.start - first_x : columns.stop - first_x,
        ]
        light[rows, columns] += part * there.flux[k][colour[rows, columns]]
    return light


def _turns(
    at_px: tuple[float, float], centre: tuple[float, float], half_diagonal: float, stars: _There
) -> NDArray[np.int64]:
    """By how many steps the spot is turned for each star."""
    dx, dy = at_px[0] - centre[0], at_px[1] - centre[1]
    if math.hypot(dx, dy) < NOT_TURNED_RADIUS * half_diagonal:
        return np.zeros(stars.x_px.size, dtype=np.int64)
    own = np.arctan2(stars.y_px - centre[1], stars.x_px - centre[0])
    turn = (np.degrees(own - math.atan2(dy, dx)) + 180) % 360 - 180
    return np.rint(turn / TURN_STEP_DEGREES).astype(np.int64)


def _turned(image: Array, steps: int) -> Array:
    if steps == 0:
        return image
    # Rows run down the picture: a turn from +x toward +y is against the library's sense.
    turned = ndimage.rotate(image, -steps * TURN_STEP_DEGREES, reshape=False, order=3)
    return np.asarray(turned / turned.sum())


def _cut(frame: Frame, box: Box) -> Frame:
    top, bottom, left, right = box
    return replace(frame, samples=frame.samples[top:bottom, left:right].copy())


def _noisy(sight: Sight, light: Array, box: Box, rng: np.random.Generator) -> Frame:
    """The square as a frame: its own sky and noise under the redrawn stars."""
    frame = sight.frame
    p, q = frame.pattern.shape
    v, u = np.mgrid[box[0] : box[1], box[2] : box[3]]
    colour = frame.pattern[v % p, u % q]
    level, noise = (_per_sample(sight, box, colour, of) for of in (level_at, noise_at))
    if sight.e_per_count is None:
        share = noise**2 / np.maximum(level, noise**2 / 4)
    else:
        share = np.full(light.shape, 1 / sight.e_per_count)
    deviation = np.sqrt(noise**2 + share * np.maximum(light, 0))
    black = np.broadcast_to(frame.black, frame.pattern.shape)[v % p, u % q]
    clipping = np.broadcast_to(frame.clipping, frame.pattern.shape)[v % p, u % q]
    counts = black + level + light + rng.standard_normal(light.shape) * deviation
    return Frame(
        samples=np.clip(np.rint(counts), 0, clipping).astype(np.uint16),
        pattern=frame.pattern,
        black=frame.black,
        clipping=frame.clipping,
        kind=frame.kind,
        file=f"{frame.file}, redrawn",
    )


def _per_sample(
    sight: Sight, box: Box, colour: NDArray[np.uint8], of: Callable[..., Array32]
) -> Array:
    """Level or noise of the sky under each sample of the square, in steps of SKY_STEP_PX."""
    top, bottom, left, right = box
    y, x = np.arange(top, bottom, SKY_STEP_PX), np.arange(left, right, SKY_STEP_PX)
    grid_x, grid_y = np.meshgrid(x + SKY_STEP_PX / 2, y + SKY_STEP_PX / 2)
    values = of(sight.found.sky, grid_x.ravel(), grid_y.ravel()).reshape(y.size, x.size, 3)
    rows, columns = np.indices(colour.shape)
    return values[rows // SKY_STEP_PX, columns // SKY_STEP_PX, colour].astype(np.float64)


def _measured(frame: Frame, stars: FoundStars, box: Box) -> tuple[Array, Array, Array]:
    """Length, width and SNR of the stars in the redrawn square; nan where one is lost."""
    seen = find_stars(frame).stars
    if len(seen) == 0:
        none = np.full(len(stars), np.nan)
        return none, none, none
    wanted = np.column_stack([stars.x_px - box[2], stars.y_px - box[0]])
    tree = cKDTree(np.column_stack([seen.x_px, seen.y_px]))
    away, index = (np.asarray(a) for a in tree.query(wanted))
    near = away < SAME_STAR_PX
    return (
        np.where(near, seen.length_px[index], np.nan),
        np.where(near, seen.width_px[index], np.nan),
        np.where(near, seen.snr[index], np.nan),
    )
