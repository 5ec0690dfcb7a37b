"""Star patterns: triangles of neighbours that look alike under shift, turn, scale and mirror."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from nightglass.optics.arrays import Flags, Floats

Complex = NDArray[np.complex128]
"""Places in a plane: x + iy [px]."""

Triangles = tuple[Floats, Complex, Flags]
"""Side ratios (n, 2), corners (n, 3) opposite the rising sides, and handedness."""

NEIGHBOURS = 6
STARS = (40, 100, 250, 600)
"""Brightest stars among which neighbours are looked for, in picture and reference: only where
both show the same stars are neighbours the same, and a crop or a smaller picture shows others."""
PLAIN_SHARE = 0.6
"""Of the stars that fall into the reference: nothing better needs to be looked for."""
CHECKED_STARS = 50
LIKE = 0.01
"""Of the side ratios of two triangles: a centre known to 0.2 px of a 30 px side moves them so."""
MOST_TRIALS = 2000
NEAR_PX = 2.5
LEAST_MATCHES = 8
LEAST_SHARE = 0.3
"""Of the stars that fall into the reference."""
LARGEST_SCALE = 20.0
SURE = 6.0
"""Deviations over what chance gives: thousands of trials are made."""


@dataclass(frozen=True)
class Similarity:
    """From picture to reference: z -> a z + b, of a mirrored picture a conj(z) + b."""

    a: complex
    b: complex
    mirrored: bool

    def __call__(self, z: Complex) -> Complex:
        """Return the places in the reference."""
        return np.asarray(self.a * (z.conj() if self.mirrored else z) + self.b)

    @property
    def scale(self) -> float:
        """Reference pixels per pixel of the picture."""
        return abs(self.a)

    @property
    def angle_degrees(self) -> float:
        """Turn of the picture against the reference, -180 to 180."""
        return float(np.degrees(np.angle(self.a)))


def matched(picture: Complex, reference: Complex, size: tuple[int, int]) -> Similarity | None:
    """Return the similarity that lays the stars of a picture on those of a reference, or None.

    Both strongest first. size: width and height of the reference [px].
    """
    stars = cKDTree(_xy(reference))
    sets = [_triangles(reference[:count]) for count in _counts(len(reference))]
    best: tuple[float, Similarity] | None = None
    for own in (_triangles(picture[:count]) for count in _counts(len(picture))):
        for other in sets:
            found = _most_agreed(*_alike(own, other), picture, (stars, size))
            if found is not None and (best is None or found[0] > best[0]):
                best = found
            if best is not None and best[0] >= PLAIN_SHARE:
                return best[1]
    return None if best is None else best[1]


def _counts(stars: int) -> list[int]:
    """Numbers of brightest stars among which neighbours are taken."""
    return [count for count in STARS if count < stars] + [min(stars, STARS[-1])]


def _alike(own: Triangles, other: Triangles) -> tuple[Complex, Complex, Flags]:
    """Corners (n, 3) of triangles that look alike, likest first, and whether one is mirrored."""
    if len(own[0]) == 0 or len(other[0]) == 0:
        return np.zeros((0, 3), complex), np.zeros((0, 3), complex), np.zeros(0, bool)
    pairs = cKDTree(own[0]).sparse_distance_matrix(cKDTree(other[0]), LIKE, output_type="ndarray")
    mine, theirs = np.asarray(pairs["i"]), np.asarray(pairs["j"])
    order = np.lexsort((theirs, mine, pairs["v"]))[:MOST_TRIALS]
    mine, theirs = mine[order], theirs[order]
    return own[1][mine], other[1][theirs], own[2][mine] != other[2][theirs]


def _triangles(z: Complex) -> Triangles:
    """Side ratios (n, 2), corners (n, 3) opposite the rising sides, and handedness."""
    if len(z) < 4:
        return np.zeros((0, 2)), np.zeros((0, 3), complex), np.zeros(0, bool)
    answer = cKDTree(_xy(z)).query(_xy(z), k=min(NEIGHBOURS, len(z)))
    near = np.asarray(answer[1], dtype=np.intp)
    triples = {
        tuple(sorted((int(row[0]), int(i), int(j))))
        for row in near
        for i, j in combinations(row[1:], 2)
    }
    corners = z[np.array(sorted(triples), dtype=np.intp)]
    opposite = np.abs(np.roll(corners, -1, axis=1) - np.roll(corners, -2, axis=1))
    order = np.argsort(opposite, axis=1)
    opposite = np.take_along_axis(opposite, order, axis=1)
    corners = np.take_along_axis(corners, order, axis=1)
    ratios = opposite[:, :2] / opposite[:, 2:]
    turn = ((corners[:, 1] - corners[:, 0]) * (corners[:, 2] - corners[:, 0]).conj()).imag
    # Sides nearly alike could change their order by noise.
    clear = (ratios[:, 1] < 0.97) & (ratios[:, 0] < 0.97 * ratios[:, 1]) & (ratios[:, 0] > 0.1)
    return ratios[clear], corners[clear], turn[clear] > 0


def _most_agreed(
    mine: Complex,
    theirs: Complex,
    mirrored: Flags,
    picture: Complex,
    reference: tuple[cKDTree, tuple[int, int]],
) -> tuple[float, Similarity] | None:
    """The transform of one pair of triangles on which most stars agree, and their share."""
    if len(mine) == 0:
        return None
    stars, (width, height) = reference
    source = np.where(mirrored[:, None], mine.conj(), mine)
    middle, target = source.mean(axis=1), theirs.mean(axis=1)
    from_middle = source - middle[:, None]
    a = np.sum(from_middle.conj() * (theirs - target[:, None]), axis=1)
    a /= np.sum(np.abs(from_middle) ** 2, axis=1)
    b = target - a * middle
    z = picture[:CHECKED_STARS]
    flipped = np.where(mirrored[:, None], z.conj()[None], z[None])
    laid = a[:, None] * flipped + b[:, None]
    inside = (laid.real > 0) & (laid.real < width) & (laid.imag > 0) & (laid.imag < height)
    apart = np.asarray(stars.query(_xy(laid.ravel()))[0]).reshape(laid.shape)
    near = NEAR_PX * np.maximum(1, np.abs(a))
    hits = np.sum(inside & (apart < near[:, None]), axis=1)
    number = inside.sum(axis=1)
    chance = 1 - np.exp(-stars.n * np.pi * near**2 / (width * height))
    expected = number * chance
    enough = (np.abs(a) > 1 / LARGEST_SCALE) & (np.abs(a) < LARGEST_SCALE)
    enough &= (hits >= LEAST_MATCHES) & (hits >= LEAST_SHARE * number)
    enough &= hits > expected + SURE * np.sqrt(expected * (1 - chance) + 1e-9)
    if not enough.any():
        return None
    k = int(np.argmax(np.where(enough, hits, -1)))
    return float(hits[k] / number[k]), Similarity(complex(a[k]), complex(b[k]), bool(mirrored[k]))


def _xy(z: Complex) -> Floats:
    return np.column_stack((z.real, z.imag))
