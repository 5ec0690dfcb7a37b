"""A part of a frame drawn once more with another lens's spot, and measured by the same code.

Every star keeps its place between the samples, its light in each colour, its trail, its
neighbours down to the catalogue's end, and the noise of its sky; only the spot is another one.
What the measuring does to real stars it does to these too, so its bias falls out of a comparison.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import ndimage
from scipy.spatial import cKDTree

from nightglass.frame.record import Frame
from nightglass.optics.arrays import Floats, Ints64
from nightglass.proof.redraw.pair import Sized, StarPair, star_pair
from nightglass.proof.redraw.square import Box, box_about, colours_in, cut_square, square_under_sky
from nightglass.proof.redraw.stars import SAME_STAR_PX, SquareStars, comparable, square_stars
from nightglass.proof.redraw.trailed_spot import TrailedSpot
from nightglass.proof.sight import Sight
from nightglass.sky.stars.find import FoundStars, find_stars

TURN_STEP_DEGREES, SIZE_STEP = 4.0, 0.06
"""The spot is turned about the optical centre, and made larger or smaller, in steps of this
(degrees, ln of size), so that it needs few turnings."""
NOT_TURNED_RADIUS = 0.05
"""Field radius under which a spot has no direction to turn with."""
NEIGHBOUR_STEPS = 6
"""Places within a pixel, and one trail for all, at which stars that are only neighbours lie."""


@dataclass(frozen=True)
class Pairs:
    """Stars measured on the sky and redrawn, arrays of one value per star [px]."""

    away_x: Floats
    """Right of the place, in half diagonals of the frame."""
    away_y: Floats
    """Below the place."""
    sky_length_px: Floats
    sky_width_px: Floats
    sky_snr: Floats
    drawn_length_px: Floats
    """Mean over the copies."""
    drawn_width_px: Floats
    picture: StarPair | None = None
    """One of the stars, recorded and redrawn; None where none was asked for or fits."""

    def __len__(self) -> int:
        return int(self.sky_snr.size)


def redrawn(
    sight: Sight,
    at_px: tuple[float, float],
    half_side_px: float,
    spot: ArrayLike,
    copies: int = 2,
    seed: int = 0,
    picture_half_px: int | None = None,
) -> Pairs:
    """Return the recognised, unclipped stars of SNR 25 and more about a place, measured twice.

    at_px: place (x, y) at which the spot was taken; half_side_px: of the square about it that is
    redrawn. spot: (rows, columns) with odd sides, 1 px steps, its light about the central sample;
    it is turned about the optical centre to each star's own direction, and as much larger or
    smaller as the sky's zones are there (Sight.sizes). copies: how often the
    square is drawn, with fresh noise. picture_half_px: half side of the crops of a typical star,
    None for no crops. Raises ValueError for a spot without light.
    """
    image = np.asarray(spot, dtype=np.float64)
    if image.ndim != 2 or not image.sum() > 0:
        raise ValueError("the spot holds no light; measure the place on the bench again")
    frame, camera = sight.frame, sight.solution.camera
    box = box_about(frame, at_px, half_side_px)
    rng = np.random.default_rng(seed)
    there = square_stars(sight, box, max(image.shape) / 2, rng)
    if there is None:
        return _no_pairs()
    light = _light(sight, there, image / image.sum(), at_px, box)
    stars = there.compared
    # The real square is measured anew too: what the finding takes from a frame's own stars (its
    # filter, the usual aperture) is then that of the same stars on both sides.
    square = cut_square(frame, box)
    sky = _measured(square, stars, box)
    squares = [square_under_sky(sight, light, box, rng) for _ in range(copies)]
    drawn = [_measured(copy, stars, box) for copy in squares]
    length, width = (np.mean([m[k] for m in drawn], axis=0) for k in range(2))
    both = np.isfinite(length + width + sky[0] + sky[1])
    stars = stars.chosen(both)
    picture = None
    if picture_half_px is not None:
        sizes = Sized(sky[0][both], sky[1][both]), Sized(length[both], width[both])
        picture = star_pair((square, squares[0]), box, stars, sizes, picture_half_px)
    return Pairs(
        away_x=(stars.x_px - at_px[0]) / camera.half_diagonal_px,
        away_y=(stars.y_px - at_px[1]) / camera.half_diagonal_px,
        sky_length_px=sky[0][both],
        sky_width_px=sky[1][both],
        sky_snr=sky[2][both],
        drawn_length_px=length[both],
        drawn_width_px=width[both],
        picture=picture,
    )


def stars_about(sight: Sight, at_px: tuple[float, float], half_side_px: float) -> int:
    """Return how many stars of the square about a place may be compared, before they are drawn."""
    box = box_about(sight.frame, at_px, half_side_px)
    return int(np.count_nonzero(comparable(sight.found.stars, box)))


def _no_pairs() -> Pairs:
    none = np.empty(0)
    return Pairs(none, none, none, none, none, none, none)


def _light(
    sight: Sight, there: SquareStars, image: Floats, at_px: tuple[float, float], box: Box
) -> Floats:
    """Star light [counts] in the square, each star drawn with the spot along its own trail."""
    top, bottom, left, right = box
    frame, camera = sight.frame, sight.solution.camera
    light = np.zeros((bottom - top, right - left))
    colour = colours_in(frame, box)
    trails = sight.trails(there.x_px, there.y_px)
    centre = camera.centre_x_px, camera.centre_y_px
    turns = _turns(at_px, centre, camera.half_diagonal_px, there)
    sizes = _sizes(sight, at_px, there)
    forms = list(zip(turns.tolist(), sizes.tolist(), strict=True))
    longest = float(np.nanmax(np.hypot(trails[:, 0], trails[:, 1])))
    turned = {form: TrailedSpot(_turned(image, *form), longest) for form in set(forms)}
    usual_trail = np.nanmedian(trails, axis=0)
    kept: dict[tuple[tuple[int, int], int, int], tuple[Floats, tuple[int, int]]] = {}
    for k in range(there.x_px.size):
        x, y = there.x_px[k], there.y_px[k]
        shift = np.array([x - round(x), y - round(y)])
        if there.exact[k]:
            spot, middle = turned[forms[k]].drawn(trails[k], shift)
        else:
            rough = np.rint(shift * NEIGHBOUR_STEPS).astype(int)
            key = (forms[k], int(rough[0]), int(rough[1]))
            if key not in kept:
                kept[key] = turned[forms[k]].drawn(usual_trail, rough / NEIGHBOUR_STEPS)
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
    at_px: tuple[float, float],
    centre: tuple[float, float],
    half_diagonal: float,
    stars: SquareStars,
) -> Ints64:
    """By how many steps the spot is turned for each star."""
    dx, dy = at_px[0] - centre[0], at_px[1] - centre[1]
    if math.hypot(dx, dy) < NOT_TURNED_RADIUS * half_diagonal:
        return np.zeros(stars.x_px.size, dtype=np.int64)
    own = np.arctan2(stars.y_px - centre[1], stars.x_px - centre[0])
    turn = (np.degrees(own - math.atan2(dy, dx)) + 180) % 360 - 180
    return np.rint(turn / TURN_STEP_DEGREES).astype(np.int64)


def _sizes(sight: Sight, at_px: tuple[float, float], stars: SquareStars) -> Ints64:
    """By how many steps the spot is larger at each star than at the place.

    Stars nearer to the frame's middle are sharper for most lenses: with one size for all, what the
    finding takes from a square's usual star would differ between the two.
    """
    if sight.sizes is None:
        return np.zeros(stars.x_px.size, dtype=np.int64)
    change = sight.sizes.change(np.column_stack([stars.x_px, stars.y_px]), at_px)
    return np.rint(np.log(change) / SIZE_STEP).astype(np.int64)


def _turned(image: Floats, turn: int, size: int) -> Floats:
    """The spot turned and sized by so many steps about its middle, its sum 1."""
    if turn == size == 0:
        return image
    # Rows run down the picture: from +x toward +y is the sense of growing angles.
    angle, shrink = math.radians(turn * TURN_STEP_DEGREES), math.exp(-size * SIZE_STEP)
    cos, sin = shrink * math.cos(angle), shrink * math.sin(angle)
    middle = np.array(image.shape) // 2
    back = np.array([[cos, -sin], [sin, cos]])
    turned = ndimage.affine_transform(image, back, middle - back @ middle, order=3)
    return np.asarray(turned / turned.sum())


def _measured(frame: Frame, stars: FoundStars, box: Box) -> tuple[Floats, Floats, Floats]:
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
