"""Stars far out of focus: discs of ten to forty pixels that no filter for sharp stars finds whole.

They are looked for in the frame at a quarter of its scale, where a disc is a few samples wide.
"""

from __future__ import annotations

import numpy as np
from scipy.spatial import cKDTree

from nightglass.optics.arrays import Floats, Floats32, Ints32
from nightglass.optics.compiled import compiled
from nightglass.sky.stars.scan import filter_weights, search_again, strongest_within

BIN_PX = 4
WIDE_SIGMA_PX = 8.0
"""Of the first filter for discs: within 25 % of the best SNR for discs of 12 to 50 px."""
CLEAR_SNR = 20.0
WIDE_RATIO = 1.5
"""SNR under the wide filter over that under the narrow one: a sharp star has 0.3, a line 1, a disc
of 14 px 2.5 and one of 28 px 5."""
LEAST_DISCS = 8
LEAST_LENGTH_PX, MOST_LENGTH_PX = 8.0, 36.0
"""Of a disc 10 to 45 px wide; blobs of cloud are wider."""
MOST_LOOKED_AT = 400


def discs(
    z: Floats32, places: Ints32, strength: Floats32
) -> tuple[Floats32, Ints32, Floats32] | None:
    """Return the frame at a quarter of its scale, places and strengths; None if no discs show.

    z: mosaic in units of its noise. places, strength: what the narrow filter found. That most of
    the bright lights are wide is all that is asked here: lamps and clouds are so too.
    """
    if min(z.shape) < 16 * BIN_PX:
        return None
    small = binned(z, BIN_PX)
    wide, heights = disc_peaks(small, WIDE_SIGMA_PX, CLEAR_SNR)
    wide, heights = wide[:MOST_LOOKED_AT], heights[:MOST_LOOKED_AT]
    if len(wide) < LEAST_DISCS:
        return None
    best = np.full(len(wide), 1.0)
    strong = strength >= 0.5 * CLEAR_SNR
    if strong.any():
        answer = cKDTree(wide).query(places[strong], distance_upper_bound=2 * WIDE_SIGMA_PX)
        near = np.asarray(answer[1], dtype=np.intp)
        inside = near < len(wide)
        np.maximum.at(best, near[inside], strength[strong][inside])
    are_wide = heights > WIDE_RATIO * best
    if np.count_nonzero(are_wide) < max(LEAST_DISCS, 0.5 * len(wide)):
        return None
    return small, wide[are_wide], heights[are_wide]


def disc_peaks(small: Floats32, sigma_px: float, least_snr: float) -> tuple[Ints32, Floats32]:
    """Return places (rows, columns of the full frame) and SNR of discs, strongest first."""
    sigma = max(sigma_px / BIN_PX, 0.7)
    found: tuple[Ints32, Floats32] = search_again(
        small, filter_weights(sigma), np.float32(least_snr)
    )
    places, heights = found
    order = np.argsort(-heights, kind="stable")
    order = order[strongest_within(order, places, 2.5 * sigma)[order]]
    middle = np.int32(BIN_PX // 2)
    full: Ints32 = places[order] * np.int32(BIN_PX) + middle
    return full, heights[order]


def usual_length(length: Floats) -> float | None:
    """Return the length [px] that two fifths of the lights share within a fifth; None if none.

    Discs are alike where no neighbour overlaps them; pieces of cloud and land are not.
    """
    known = np.sort(length[np.isfinite(length)])
    share = int(np.ceil(0.4 * length.size))
    if share < LEAST_DISCS // 2 or known.size < share:
        return None
    spans = known[share - 1 :] - known[: known.size - share + 1]
    first = int(np.argmin(spans))
    middle = float(np.median(known[first : first + share]))
    fits = LEAST_LENGTH_PX < middle < MOST_LENGTH_PX and spans[first] < 0.2 * middle
    return middle if fits else None


@compiled
def binned(z, step):  # type: ignore[no-untyped-def]
    """Return sums over squares of step x step samples, over step: noise stays 1."""
    rows, columns = z.shape[0] // step, z.shape[1] // step
    out = np.zeros((rows, columns), dtype=np.float32)
    line = np.empty(columns * step, dtype=np.float32)
    share = np.float32(1 / step)
    for y in range(rows):
        line[:] = 0.0
        for v in range(y * step, y * step + step):
            for x in range(line.size):
                line[x] += z[v, x]
        for x in range(columns):
            for u in range(x * step, x * step + step):
                out[y, x] += share * line[u]
    return out
