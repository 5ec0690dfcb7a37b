"""Detail of a picture by scale: means of blocks less the mean of their four (Haar's wavelet)."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from nightglass.optics.arrays import Flags, Floats32, Ints64

SCALES_PX = (1, 2, 4, 8, 16, 32, 64)
LEAST_BLOCKS = 16
SHARED_SCALES_PX = (8, 16, 32)
LEAST_SHARED_BLOCKS = 100
LEAST_WEIGHT, LEAST_BLOCK = 3.0, 0.5
"""Sky in the four blocks together, of 4, and in the block itself, of 1."""


def details(planes: Sequence[Floats32], sky: Flags) -> Iterator[tuple[int, list[Floats32]]]:
    """Yield (scale [px], details of each plane, equal places in all) of the sky, finest first.

    An even slope of the sky gives each of the four blocks its own offset, which is taken out. It
    ends with the first scale that has fewer than 16 blocks.
    """
    weight = sky.astype(np.float32)
    parts = [np.asarray(plane * weight, dtype=np.float32) for plane in planes]
    for scale in SCALES_PX:
        if min(weight.shape) < 4:
            return
        coarse_weight = _summed(weight)
        coarse = [_summed(part) for part in parts]
        inside = np.repeat(np.repeat(coarse_weight >= LEAST_WEIGHT, 2, axis=0), 2, axis=1)
        inside &= weight[: inside.shape[0], : inside.shape[1]] >= LEAST_BLOCK
        if inside.sum() < LEAST_BLOCKS:
            return
        rows, columns = inside.shape
        i, j = np.nonzero(inside)
        child = 2 * (i % 2) + j % 2
        found = []
        for part, low in zip(parts, coarse, strict=True):
            four = np.repeat(
                np.repeat(low / np.maximum(coarse_weight, 1e-6), 2, axis=0), 2, axis=1
            )[inside]
            mean = part[:rows, :columns][inside] / weight[:rows, :columns][inside]
            found.append(_without_slope(np.asarray(mean - four), child))
        yield scale, found
        parts, weight = (
            [np.asarray(part / 4, dtype=np.float32) for part in coarse],
            np.asarray(coarse_weight / 4),
        )


def common_slope(
    pairs: Sequence[tuple[Floats32, Floats32]], sky: Flags
) -> tuple[float, float] | None:
    """Return the picture's detail per detail of the reference, and how alike they are.

    pairs: planes of reference and picture, taken together. Of 8, 16 and 32 px the coarsest scale
    with 100 blocks counts: smoothing and sharpening reach it least. Both pictures come from one
    exposure and share its noise, which so measures the tone. Alike: correlation, -1 to 1. None
    where the sky is too small.
    """
    found = None
    for scale, parts in details([plane for pair in pairs for plane in pair], sky):
        if scale not in SHARED_SCALES_PX or len(parts[0]) < LEAST_SHARED_BLOCKS:
            continue
        own, other = np.concatenate(parts[::2]), np.concatenate(parts[1::2])
        square, other_square = float(own @ own), float(other @ other)
        if square > 0 and other_square > 0:
            product = float(own @ other)
            found = product / square, product / (square * other_square) ** 0.5
    return found


def _without_slope(detail: Floats32, child: Ints64) -> Floats32:
    for k in range(4):
        mine = child == k
        if mine.any():
            detail[mine] -= np.median(detail[mine])
    return detail


def _summed(plane: Floats32) -> Floats32:
    rows, columns = plane.shape[0] // 2 * 2, plane.shape[1] // 2 * 2
    part = plane[:rows, :columns]
    return np.asarray(part[::2, ::2] + part[1::2, ::2] + part[::2, 1::2] + part[1::2, 1::2])
