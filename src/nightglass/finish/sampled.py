"""Parts of a large picture that stand for all of it: squares spread evenly, pixels of a grid."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from nightglass.optics.arrays import Flags, Floats32

SQUARE_PX = 512
"""A multiple of the coarsest blocks of four, and of JPEG's squares: no block is cut."""
MOST_PX = 6_000_000
"""Noise of this many pixels is known to 1 % up to blocks of 32 px; more tells no more."""
MOST_VALUES = 1_000_000
"""For medians and percentiles: known to a thousandth of the scatter."""

Squares = tuple[tuple[slice, slice], ...]


def squares_of(shape: tuple[int, ...]) -> Squares:
    """Return squares spread evenly over a large picture; none where all of it is to be taken."""
    rows, columns = shape[0] // SQUARE_PX, shape[1] // SQUARE_PX
    every = math.ceil(shape[0] * shape[1] / MOST_PX)
    if every == 1 or rows * columns < every:
        return ()
    # Each row of squares begins elsewhere, so that all columns come in turn.
    shift = next(k for k in range(max(every // 2, 1), every + 2) if math.gcd(k, every) == 1)
    return tuple(
        (slice(i * SQUARE_PX, (i + 1) * SQUARE_PX), slice(j * SQUARE_PX, (j + 1) * SQUARE_PX))
        for i in range(rows)
        for j in range(columns)
        if (i * shift + j) % every == 0
    )


def gathered(planes: NDArray[Any], squares: Squares) -> NDArray[Any]:
    """Return the squares below each other, (n, SQUARE_PX, ...); all of it where there are none."""
    if not squares:
        return planes
    return np.concatenate([planes[square] for square in squares])


def whole_steps(sky: Flags, squares: Squares) -> Flags:
    """Return gathered sky without the last row and column of each square: no step leads on."""
    if not squares:
        return sky
    out = sky.copy()
    out[SQUARE_PX - 1 :: SQUARE_PX] = False
    out[:, -1] = False
    return out


def some(plane: Floats32, inside: Flags | None = None) -> Floats32:
    """Return values of a plane on an even grid, of those inside: for medians and percentiles."""
    step = max(math.isqrt(plane.shape[0] * plane.shape[1] // MOST_VALUES), 1)
    part = plane[::step, ::step]
    if inside is None:
        return np.asarray(part.ravel())
    few = part[inside[::step, ::step]]
    # A small crop between the lines of the grid.
    return few if few.size else np.asarray(plane[inside])
