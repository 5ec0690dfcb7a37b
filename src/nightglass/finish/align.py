"""Where a picture lies on its reference: shift, turn, scale, mirror, and bend, to sub-pixel."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from nightglass.finish.codes import NoteCode, UncomparedCode
from nightglass.finish.patterns import Complex, Similarity, matched
from nightglass.optics.arrays import Floats
from nightglass.sky.stars.find import FoundStars

LEAST_STARS = 8
BEND_STARS = 60
"""A bend has twenty numbers: three stars for each."""
BENT_PX = 1.0
TURNED_DEGREES = 2.0
BEYOND_SHARE = 0.02
NEAR_PX, CLOSE_PX = 2.5, 1.0
ROUNDS = 5


@dataclass(frozen=True)
class Placement:
    """How a picture lies on its reference [px of the reference].

    bend: coefficients (10, 2) of a cubic in unit coordinates added to the similarity, or None.
    err_px: of the placement, scatter over the root of the stars. covered_share: part of the
    picture that lies on the reference.
    """

    similarity: Similarity
    bend: Floats | None
    bend_px: float
    matches: int
    scatter_px: float
    err_px: float
    covered_share: float
    notes: tuple[NoteCode, ...]
    unit: tuple[float, float, float] = (0.0, 0.0, 1.0)

    def __call__(self, z: Complex) -> Complex:
        """Return places of the reference for places of the picture."""
        out = self.similarity(z)
        if self.bend is None:
            return out
        moved = _cubic(z, self.unit) @ self.bend
        return np.asarray(out + moved[..., 0] + 1j * moved[..., 1])


def placed(
    picture: FoundStars,
    reference: FoundStars,
    size: tuple[int, int],
    reference_size: tuple[int, int],
) -> Placement | UncomparedCode:
    """Lay a picture on its reference by their stars; sizes are width and height [px]."""
    mine, theirs = picture.x_px + 1j * picture.y_px, reference.x_px + 1j * reference.y_px
    if min(len(mine), len(theirs)) < LEAST_STARS:
        return UncomparedCode.TOO_FEW_STARS
    first = matched(mine, theirs, reference_size)
    if first is None:
        return UncomparedCode.OTHER_SCENE
    unit = (size[0] / 2, size[1] / 2, max(size) / 2)
    return _refined(first, mine, theirs, (size, reference_size, unit))


def _refined(
    first: Similarity,
    mine: Complex,
    theirs: Complex,
    sizes: tuple[tuple[int, int], tuple[int, int], tuple[float, float, float]],
) -> Placement | UncomparedCode:
    size, reference_size, unit = sizes
    tree = cKDTree(np.column_stack((theirs.real, theirs.imag)))
    now, bend = first, None
    least = max(1.0, first.scale)
    near = 2 * NEAR_PX * least
    for _ in range(ROUNDS):
        laid = now(mine) + _moved(mine, bend, unit)
        apart, which = tree.query(np.column_stack((laid.real, laid.imag)))
        good = np.flatnonzero(apart < near)
        if len(good) < LEAST_STARS:
            return UncomparedCode.TOO_FEW_STARS
        source, target = mine[good], theirs[which[good]]
        now, bend = _fitted(source, target, first.mirrored, unit)
        rest = np.abs(target - now(source) - _moved(source, bend, unit))
        # A bend that is not yet fitted leaves the rim far off: the reach shrinks with the rest.
        near = float(np.clip(4 * np.median(rest), CLOSE_PX * least, 2 * NEAR_PX * least))
    straight, _ = _fitted(source, target, first.mirrored, unit, may_bend=False)
    rest_straight = float(np.median(np.abs(target - straight(source))))
    scatter = float(np.median(rest))
    bend_px = _bend_px(now, bend, straight, (size, unit))
    if bend is None or bend_px < BENT_PX or rest_straight < 1.3 * scatter:
        now, bend, scatter, bend_px = straight, None, rest_straight, 0.0
    place = Placement(now, bend, bend_px, len(good), scatter, scatter / len(good) ** 0.5, 0, (),
                      unit)  # fmt: skip
    return _described(place, size, reference_size)


def _described(
    place: Placement, size: tuple[int, int], reference_size: tuple[int, int]
) -> Placement:
    x, y = np.meshgrid(np.linspace(0, size[0] - 1, 60), np.linspace(0, size[1] - 1, 60))
    laid = place(x + 1j * y)
    inside = (laid.real > -1) & (laid.real < reference_size[0])
    inside &= (laid.imag > -1) & (laid.imag < reference_size[1])
    covered = float(inside.mean())
    notes = []
    if abs(place.similarity.angle_degrees) > TURNED_DEGREES and not place.similarity.mirrored:
        notes.append(NoteCode.TURNED)
    if place.similarity.mirrored:
        notes.append(NoteCode.MIRRORED)
    if place.bend is not None:
        notes.append(NoteCode.BENT)
    if covered < 1 - BEYOND_SHARE:
        notes.append(NoteCode.BEYOND_REFERENCE)
    return Placement(
        place.similarity, place.bend, place.bend_px, place.matches, place.scatter_px,
        place.err_px, covered, tuple(notes), place.unit,
    )  # fmt: skip


def _fitted(
    source: Complex,
    target: Complex,
    mirrored: bool,
    unit: tuple[float, float, float],
    may_bend: bool = True,
) -> tuple[Similarity, Floats | None]:
    """Least squares: a similarity, and on top a cubic if there are stars enough."""
    z = source.conj() if mirrored else source
    middle, goal = z.mean(), target.mean()
    a = np.sum((z - middle).conj() * (target - goal)) / np.sum(np.abs(z - middle) ** 2)
    found = Similarity(complex(a), complex(goal - a * middle), mirrored)
    if not may_bend or len(source) < BEND_STARS:
        return found, None
    rest = target - found(source)
    terms = _cubic(source, unit)
    return found, np.linalg.lstsq(terms, np.column_stack((rest.real, rest.imag)), rcond=None)[0]


def _cubic(z: Complex, unit: tuple[float, float, float]) -> Floats:
    x, y = (z.real - unit[0]) / unit[2], (z.imag - unit[1]) / unit[2]
    powers = [(i, j) for i in range(4) for j in range(4 - i)]
    return np.stack([x**i * y**j for i, j in powers], axis=-1)


def _moved(z: Complex, bend: Floats | None, unit: tuple[float, float, float]) -> Complex:
    if bend is None:
        return np.zeros_like(z)
    moved = _cubic(z, unit) @ bend
    return np.asarray(moved[..., 0] + 1j * moved[..., 1])


def _bend_px(
    now: Similarity,
    bend: Floats | None,
    straight: Similarity,
    frame: tuple[tuple[int, int], tuple[float, float, float]],
) -> float:
    """Largest way between bent and straight over the picture."""
    size, unit = frame
    x, y = np.meshgrid(np.linspace(0, size[0] - 1, 30), np.linspace(0, size[1] - 1, 30))
    z = x + 1j * y
    return float(np.abs(now(z) + _moved(z, bend, unit) - straight(z)).max())
