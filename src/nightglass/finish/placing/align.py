"""Where a picture lies on its reference: shift, turn, scale, mirror, and bend, to sub-pixel."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from nightglass.finish.codes import NoteCode, UncomparedCode
from nightglass.finish.placing.patterns import Complex, Similarity, matched
from nightglass.optics.arrays import Floats, Floats32
from nightglass.sky.stars.find import FoundStars

LEAST_STARS = 8
SURE = 5.0
"""Deviations over what chance gives: two skies always have some stars within 1 px."""
BEND_STARS = 60
"""A bend has twenty numbers: three stars for each."""
BENT_PX = 1.0
TURNED_DEGREES = 2.0
BEYOND_SHARE, EDGE_PX = 0.02, 2.0
REACHES_PX = (5.0, 5.0, 4.0, 3.0, 2.0, 1.5, 1.0, 1.0)
"""How far stars may lie from their like, round by round: wide while a bend is not yet fitted,
narrow at last, where chance neighbours no longer count."""
BACK_ROUNDS, CENTRE_ROUNDS = 6, 6
MOST_CENTRED = 600
CENTRE_HALF_PX, CENTRE_SIGMA_PX, MOST_MOVED_PX = 6, 1.8, 4.0


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

    def back(self, target: Complex) -> Complex:
        """Return places of the picture for places of the reference."""
        like = self.similarity
        moved = target
        for _ in range(BACK_ROUNDS):
            z = (moved - like.b) / like.a
            z = z.conj() if like.mirrored else z
            moved = moved + target - self(z)
        return np.asarray(z)


def placed(
    picture: FoundStars,
    reference: FoundStars,
    light: Floats32,
    sizes: tuple[tuple[int, int], tuple[int, int]],
) -> Placement | UncomparedCode:
    """Lay a picture on its reference by their stars.

    light: of the picture, (rows, columns). sizes: width and height of picture and reference [px].
    """
    size, reference_size = sizes
    mine, theirs = picture.x_px + 1j * picture.y_px, reference.x_px + 1j * reference.y_px
    if min(len(mine), len(theirs)) < LEAST_STARS:
        return UncomparedCode.TOO_FEW_STARS
    first = matched(mine, theirs, reference_size)
    if first is None:
        return UncomparedCode.OTHER_SCENE
    unit = (size[0] / 2, size[1] / 2, max(size) / 2)
    rough = _refined(first, mine, theirs, (size, reference_size, unit))
    if isinstance(rough, UncomparedCode):
        return rough
    # Stars that smoothing flattened are found badly: each is centred anew where it should be.
    own = _centred(light, rough.back(theirs[:MOST_CENTRED]))
    known = np.isfinite(own)
    if known.sum() < LEAST_STARS:
        return rough
    better = _refined(
        rough.similarity, own[known], theirs[:MOST_CENTRED][known], (size, reference_size, unit)
    )
    if isinstance(better, UncomparedCode) or better.scatter_px > rough.scatter_px:
        return rough
    return better


def _centred(light: Floats32, places: Complex) -> Complex:
    """Centres under a Gaussian weight near to places; nan at the rim and where no light is."""
    rows, columns = light.shape
    half = CENTRE_HALF_PX
    dy, dx = np.mgrid[-half : half + 1, -half : half + 1]
    z = np.array(places, dtype=complex)
    good = np.isfinite(z)
    for _ in range(CENTRE_ROUNDS):
        i, j = np.rint(z.imag).astype(np.intp), np.rint(z.real).astype(np.intp)
        good &= (i > half) & (i < rows - half - 1) & (j > half) & (j < columns - half - 1)
        i, j = np.where(good, i, half), np.where(good, j, half)
        stamps = light[i[:, None, None] + dy, j[:, None, None] + dx].astype(np.float64)
        stamps -= np.median(stamps, axis=(1, 2), keepdims=True)
        x, y = dx + (j - z.real)[:, None, None], dy + (i - z.imag)[:, None, None]
        weight = np.exp(-(x**2 + y**2) / (2 * CENTRE_SIGMA_PX**2)) * stamps
        total = weight.sum(axis=(1, 2))
        good &= total > 0
        # Twice the way: weight and star, about as wide as each other, halve it.
        step = 2 * ((weight * x).sum(axis=(1, 2)) + 1j * (weight * y).sum(axis=(1, 2)))
        step /= np.where(good, total, 1.0)
        good &= np.abs(step) <= half
        z = np.where(good, z + step, z)
    good &= np.abs(z - places) < MOST_MOVED_PX
    return np.where(good, z, np.nan)


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
    for reach in REACHES_PX:
        near = reach * least
        laid = now(mine) + _moved(mine, bend, unit)
        answer = tree.query(np.column_stack((laid.real, laid.imag)))
        apart, which = np.asarray(answer[0]), np.asarray(answer[1], dtype=np.intp)
        good = np.flatnonzero(apart < near)
        if len(good) < LEAST_STARS:
            return UncomparedCode.TOO_FEW_STARS
        source, target = mine[good], theirs[which[good]]
        now, bend = _fitted(source, target, first.mirrored, unit)
        rest = np.abs(target - now(source) - _moved(source, bend, unit))
    number, area = len(mine), reference_size[0] * reference_size[1]
    chance = number * min(len(theirs) * np.pi * near**2 / area, 1.0)
    if len(good) < chance + SURE * max(chance, 1.0) ** 0.5:
        return UncomparedCode.OTHER_SCENE
    straight, _ = _fitted(source, target, first.mirrored, unit, may_bend=False)
    rest_straight = float(np.median(np.abs(target - straight(source))))
    scatter = float(np.median(rest))
    bend_px = _bend_px(now, bend, straight, (size, unit))
    if bend is None or bend_px < BENT_PX or rest_straight < 1.3 * scatter:
        now, bend, scatter, bend_px = straight, None, rest_straight, 0.0
    place = Placement(now, bend, bend_px, len(good), scatter, scatter / len(good) ** 0.5, 0, (),
                      unit)  # fmt: skip
    return described(place, size, reference_size)


def described(
    place: Placement, size: tuple[int, int], reference_size: tuple[int, int]
) -> Placement:
    """Return a placement with its covered share and notes; sizes are width and height [px]."""
    x, y = np.meshgrid(np.linspace(0, size[0] - 1, 60), np.linspace(0, size[1] - 1, 60))
    laid = place(x + 1j * y)
    inside = (laid.real > -EDGE_PX) & (laid.real < reference_size[0] - 1 + EDGE_PX)
    inside &= (laid.imag > -EDGE_PX) & (laid.imag < reference_size[1] - 1 + EDGE_PX)
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
    bend = np.linalg.lstsq(terms, np.column_stack((rest.real, rest.imag)), rcond=None)[0]
    return found, np.asarray(bend, dtype=np.float64)


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
