"""Rebuilding a spot from the samples of a colour mosaic.

A mosaic shows each colour at some pixels only. The gaps of one colour are filled from all
samples near by, of its own colour and of the others (scaled by their ratio), by linear
prediction: the weights are those of ordinary kriging for a spot of the given smoothness, and
depend only on the place in the pattern. The pattern repeats, so they are worked out once per
place of the pattern and then used over the whole spot.

Source of the weights: N. Cressie, Statistics for Spatial Data (1993), section 3.2.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nightglass.optics.arrays import Floats, Ints64
from nightglass.optics.compiled import compiled

REACH_PX = 3.3
"""Samples up to this far enter a prediction; farther ones carry weights under 1 %."""
MARGIN = int(REACH_PX)
"""Pixels around a window that are only read."""
NOISE_FLOOR = 1e-4
"""Noise variance over spot variance in the weights; keeps the systems well-posed."""
DISTRUST = 9.0
"""Trust value of a colour whose samples are not to fill gaps."""


@dataclass(frozen=True)
class Ties:
    """How the other colours hang together with the one that is rebuilt (index = colour number)."""

    ratio: Floats
    """(3,) light of the colour over that of the rebuilt one, per pixel."""
    offset_px: Floats
    """(3, 2) centre of light (x, y) of the colour minus that of the rebuilt one."""
    trust: Floats
    """(3,) scatter of the scaled colour about the rebuilt one, as a share of the local variance;
    0 is full trust, DISTRUST none."""


@dataclass(frozen=True)
class Kernels:
    """Weights of the neighbours for every place of the pattern and every sub-pixel step."""

    dy: Ints64
    dx: Ints64
    weights: Floats
    """(places of the pattern, steps, steps, neighbours), for samples scaled to one colour."""


def kernels(pattern: NDArray[np.uint8], ties: Ties, smooth_px: float, steps: int = 1) -> Kernels:
    """Return the prediction weights on a pattern for samples divided by their colour's ratio.

    smooth_px: standard deviation of the Gaussian covariance. steps: sub-pixel places per pixel
    and axis.
    """
    grid = np.arange(-MARGIN, MARGIN + 1)
    dy, dx = (g.ravel() for g in np.meshgrid(grid, grid, indexing="ij"))
    near = np.hypot(dy, dx) <= REACH_PX
    dy, dx = dy[near], dx[near]
    rows, columns = pattern.shape
    py, px = (g.ravel()[:, None] for g in np.indices(pattern.shape))
    colour = pattern[(py + dy) % rows, (px + dx) % columns]
    at = np.stack([np.broadcast_to(dy, colour.shape), np.broadcast_to(dx, colour.shape)], axis=2)
    at = at - ties.offset_px[colour][:, :, ::-1]
    sub = (np.arange(steps) - (steps - 1) / 2) / steps
    wanted = np.stack([g.ravel() for g in np.meshgrid(sub, sub, indexing="ij")], axis=1)
    weights = _krige(at, ties.trust[colour] + NOISE_FLOOR, wanted, smooth_px)
    return Kernels(dy, dx, weights.reshape(rows * columns, steps, steps, dy.size))


def _krige(at: Floats, nugget: Floats, wanted: Floats, smooth_px: float) -> Floats:
    """Return weights (places, wanted, samples); those of one wanted point sum to 1."""
    places, n = nugget.shape
    system = np.ones((places, n + 1, n + 1))
    system[:, n, n] = 0.0
    apart = ((at[:, :, None, :] - at[:, None, :, :]) ** 2).sum(axis=3)
    system[:, :n, :n] = np.exp(-0.5 * apart / smooth_px**2)
    system[:, np.arange(n), np.arange(n)] += nugget
    right = np.ones((places, n + 1, len(wanted)))
    away = ((at[:, :, None, :] - wanted[None, None, :, :]) ** 2).sum(axis=3)
    right[:, :n] = np.exp(-0.5 * away / smooth_px**2)
    solved: Floats = np.linalg.solve(system, right)
    return np.ascontiguousarray(np.swapaxes(solved[:, :n], 1, 2))


def predict(scaled: Floats, places: Ints64, kernel: Kernels) -> Floats:
    """Return the rebuilt light, (rows * steps, columns * steps), of the window less its margin.

    scaled: (rows, columns) light above background of all colours, divided by their ratios.
    places: same shape, number of the place in the pattern. MARGIN pixels at each side are only
    read; sub-pixel places run from the top-left corner of each pixel inward.
    """
    return _predict(scaled, places, kernel.dy, kernel.dx, kernel.weights)


@compiled
def _predict(samples, places, dy, dx, weights):  # type: ignore[no-untyped-def]
    steps = weights.shape[1]
    rows, columns = samples.shape[0] - 2 * MARGIN, samples.shape[1] - 2 * MARGIN
    out = np.zeros((rows * steps, columns * steps))
    for i in range(rows):
        for j in range(columns):
            place = places[i + MARGIN, j + MARGIN]
            for a in range(steps):
                for b in range(steps):
                    total = 0.0
                    for m in range(dy.size):
                        total += (
                            samples[i + MARGIN + dy[m], j + MARGIN + dx[m]]
                            * weights[place, a, b, m]
                        )
                    out[i * steps + a, j * steps + b] = total
    return out
