"""One star of a frame as recorded, beside another lens's spot drawn in its place."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from nightglass.frame.record import Frame
from nightglass.optics.arrays import Floats, Floats32
from nightglass.proof.redraw.square import Box, in_box
from nightglass.sky.stars.find import FoundStars
from nightglass.sky.zones.typical import BRIGHTEST, ROOM, alone, green_light
from nightglass.spot.rebuild import MARGIN


@dataclass(frozen=True)
class Sized:
    """Length and width of stars, arrays of one value per star [px]."""

    length_px: Floats
    width_px: Floats

    @property
    def size_px(self) -> Floats:
        """Root of length times width."""
        return np.asarray(np.sqrt(self.length_px * self.width_px))


@dataclass(frozen=True)
class StarPair:
    """A star as recorded, and the other spot drawn as that star: green light above the sky
    [counts], one sample per raw pixel, (2 half + 1, 2 half + 1), its pixel in the middle."""

    x_px: float
    y_px: float
    snr: float
    reach_px: int
    """Half side of the crop that holds the larger of the two."""
    sky: Floats32
    drawn: Floats32


def star_pair(
    squares: tuple[Frame, Frame],
    box: Box,
    stars: FoundStars,
    sizes: tuple[Sized, Sized],
    half_px: int,
) -> StarPair | None:
    """Return a typical star of a square of the sky and of the same square redrawn.

    stars: those that were measured in both, places in the whole frame; sizes: on the sky and
    redrawn. Of the dozen brightest that stand alone (else of all) the one nearest to the middle
    of all stars' sizes in both: it shows what the comparison says, not its scatter. None where no
    star has room.
    """
    room = np.flatnonzero(in_box(stars.x_px, stars.y_px, box, half_px + MARGIN + 1.0))
    if room.size == 0:
        return None
    single = room[alone(stars, room, 1.5 * half_px)]
    chosen = single if single.size else room
    bright = chosen[np.argsort(-stars.snr[chosen], kind="stable")][:BRIGHTEST]
    logs = [np.log(side.size_px) for side in sizes]
    away = np.hypot(*(log[bright] - np.median(log) for log in logs))
    star = int(bright[np.argmin(away)])
    at_px = float(stars.x_px[star] - box[2]), float(stars.y_px[star] - box[0])
    crops = [
        green_light(
            square, at_px, (float(side.length_px[star]), float(side.width_px[star])), half_px
        )
        for square, side in zip(squares, sizes, strict=True)
    ]
    longest = max(float(side.length_px[star]) for side in sizes)
    return StarPair(
        x_px=float(stars.x_px[star]),
        y_px=float(stars.y_px[star]),
        snr=float(stars.snr[star]),
        reach_px=min(math.ceil(ROOM * longest) + 2, half_px),
        sky=crops[0],
        drawn=crops[1],
    )
