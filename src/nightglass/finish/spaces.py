"""Whether a picture's colours fit the reference better in another space than in its own."""

from __future__ import annotations

import numpy as np

from nightglass.finish.common import Common
from nightglass.finish.findings import ProfileFit
from nightglass.finish.picture import Picture
from nightglass.finish.profiles import SPACES, profile_of, to_light
from nightglass.optics.arrays import Floats, Floats32

LEAST_PLACES = 30
BIN_PX = 4
"""Light of squares: their noise is small beside what a wrong space does."""
MOST_PLACES = 4000


def profile_fit(picture: Picture, common: Common) -> ProfileFit | None:
    """Return the misfit in the picture's own space and in the best of SPACES; None if unknown.

    Misfit: root mean square over squares of 4 px and colours of log2(picture / reference), after
    one common factor of exposure. A change of brightness alone misfits nothing.
    """
    if picture.is_raw:
        return None
    chosen = _places(common)
    if len(chosen[0]) < LEAST_PLACES:
        return None
    reference = _binned(common.reference, chosen)
    samples = picture.encoded(_squares(chosen)).reshape(len(chosen[0]), BIN_PX * BIN_PX, 3)
    own = _misfit(_binned(common.picture, chosen), reference)
    misfits = {
        space: _misfit(to_light(samples, profile_of(space)).mean(axis=1), reference)
        for space in SPACES
    }
    best = min(misfits, key=lambda space: misfits[space])
    return ProfileFit(own, misfits[best], best)


def _places(common: Common) -> tuple[np.ndarray, np.ndarray]:
    """Tops and lefts of squares: the brightest ones and as many of the sky."""
    rows, columns = (side // BIN_PX for side in common.valid.shape)
    whole = common.valid[: rows * BIN_PX, : columns * BIN_PX]
    filled = np.asarray(whole.reshape(rows, BIN_PX, columns, BIN_PX).all(axis=(1, 3)))
    light = _mean(common.reference[..., 1], rows, columns)
    light = np.where(filled, light, -np.inf)
    order = np.argsort(-light.ravel(), kind="stable")[: int(filled.sum())]
    bright = order[: min(MOST_PLACES, len(order) // 50)]
    sky = order[len(order) // 50 :: max(len(order) // max(len(bright), 1), 1)]
    i, j = np.unravel_index(np.concatenate((bright, sky)), light.shape)
    return i * BIN_PX, j * BIN_PX


def _mean(plane: Floats32, rows: int, columns: int) -> Floats32:
    part = plane[: rows * BIN_PX, : columns * BIN_PX]
    return np.asarray(part.reshape(rows, BIN_PX, columns, BIN_PX).mean(axis=(1, 3)))


def _squares(chosen: tuple[np.ndarray, np.ndarray]) -> tuple[np.ndarray, np.ndarray]:
    """Rows and columns (n, 4, 4) of the squares' pixels."""
    step = np.arange(BIN_PX)
    i = chosen[0][:, None, None] + step[None, :, None]
    j = chosen[1][:, None, None] + step[None, None, :]
    return np.broadcast_to(i, (len(i), BIN_PX, BIN_PX)), np.broadcast_to(
        j, (len(j), BIN_PX, BIN_PX)
    )


def _binned(planes: Floats32, chosen: tuple[np.ndarray, np.ndarray]) -> Floats:
    return np.asarray(planes[_squares(chosen)].mean(axis=(1, 2), dtype=np.float64))


def _misfit(own: Floats, reference: Floats) -> float:
    good = np.all((own > 1e-5) & (reference > 1e-5), axis=1)
    if good.sum() < LEAST_PLACES:
        return float("inf")
    change = np.log2(own[good] / reference[good])
    rest = change - np.median(change)
    # The worst tenth are edges that noise reduction or sharpening moved.
    worst = np.percentile(np.abs(rest), 90)
    return float(np.sqrt(np.mean(rest[np.abs(rest) <= worst] ** 2)))
