"""Detail of a picture by scale: means of blocks less the mean of their four (Haar's wavelet)."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from nightglass.optics.arrays import Flags, Floats32

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
        enough = coarse_weight >= LEAST_WEIGHT
        inside = [enough & (block >= LEAST_BLOCK) for block in _blocks(weight)]
        if sum(int(block.sum()) for block in inside) < LEAST_BLOCKS:
            return
        even = np.maximum(coarse_weight, 1e-6)
        found = [
            _detail(part, np.asarray(low / even, dtype=np.float32), weight, inside)
            for part, low in zip(parts, coarse, strict=True)
        ]
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


def _detail(part: Floats32, mean: Floats32, weight: Floats32, inside: Sequence[Flags]) -> Floats32:
    """Means of blocks less the mean of their four, block by block of the four.

    Each of the four loses its own median: the offset that an even slope gives it.
    """
    found = []
    for block, share, fine in zip(_blocks(part), _blocks(weight), inside, strict=True):
        detail = block[fine] / share[fine] - mean[fine]
        if detail.size:
            detail -= np.median(detail)
        found.append(detail)
    return np.concatenate(found)


def _blocks(plane: Floats32) -> tuple[Floats32, Floats32, Floats32, Floats32]:
    """The four blocks that each coarser block is made of: upper left, upper right, lower two."""
    rows, columns = plane.shape[0] // 2 * 2, plane.shape[1] // 2 * 2
    part = plane[:rows, :columns]
    return part[::2, ::2], part[::2, 1::2], part[1::2, ::2], part[1::2, 1::2]


def _summed(plane: Floats32) -> Floats32:
    first, second, third, fourth = _blocks(plane)
    return np.asarray(first + third + second + fourth)
