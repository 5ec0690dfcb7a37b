"""Rectangles of dead samples: light has blurred edges, a block of a sensor has none.

Nothing that a lens draws ends from one pixel to the next along two sides at once, at full light up
to the side and at none behind it. Where the limits stand was found by design/dead_pixels.py.
"""

from __future__ import annotations

import numpy as np

from nightglass.optics.arrays import Flags, Floats

LEAST_SIDE, MOST_SIDE = 2, 4
CLEAR_SIGMA = 20.0
"""Of the light beside a block over the noise, before anything is called missing."""
DARK_SHARE, DARK_SIGMA = 0.03, 4.0
"""Of the light beside it, and of the noise: what a dead sample may read at most."""
TOLD_SHARE = 0.2
"""Of the light beside the corner: samples behind a side that are dimmer have no say."""
EACH_LIT, MEAN_LIT, FAR_LIT = 0.4, 0.8, 0.6
"""Light along a side over what the two samples behind it foretell: each one and the mean of a lit
side, the mean of a side opposite to it."""
STEEPEST = 0.3
"""Fall of light from one sample to the next that may be foretold to go on."""
OPEN_TOP, OPEN_EACH, OPEN_MEAN, OPEN_SIDE = 0.25, 0.6, 1.3, 3
"""At the edge of a spot, where the far sides are dark anyway: the light beside the corner over the
spot's brightest, each sample and at most the mean as above, and samples along the longer side."""
OPEN_CORNER = (0.7, 1.35)
"""There, the sample across the corner over those beside it."""
AROUND = 3
"""Samples around a block that are looked at."""
ROOM = MOST_SIDE + AROUND + 1
"""Samples that are wanted around the aperture."""


def dark_blocks(scaled: Floats, spread: Floats, inside: Flags) -> Flags:
    """Return the samples of dark rectangles, 2 x 2 to 4 x 4, with two lit sides or more.

    scaled: (rows, columns) light above background, all colours at one level; spread: its noise.
    inside: the aperture, in which the corner between the two sides must lie.
    """
    found = np.zeros(inside.shape, dtype=bool)
    if not inside.any():
        return found
    brightest = float(np.quantile(scaled[inside], 0.98))
    for turn in range(4):
        # Turned so that the lit sides lie above and to the left; what is set is set in `found`.
        light, noise = np.rot90(scaled, turn), np.rot90(spread, turn)
        within, mine = np.rot90(inside, turn), np.rot90(found, turn)
        for row, column in zip(*np.nonzero(_corners(light, noise, within)), strict=True):
            height, width = _sides(light, noise, (int(row), int(column)), brightest)
            mine[row : row + height, column : column + width] = True
    return found


def _corners(light: Floats, spread: Floats, inside: Flags) -> Flags:
    """Dark samples whose neighbours above and to the left are lit, as far as there is room."""
    above, beside = np.zeros_like(light), np.zeros_like(light)
    above[1:], beside[:, 1:] = light[:-1], light[:, :-1]
    lit = np.minimum(above, beside)
    corner: Flags = inside & (lit > CLEAR_SIGMA * spread)
    corner &= light < np.maximum(DARK_SHARE * lit, DARK_SIGMA * spread)
    end = ROOM - 1
    corner[:AROUND], corner[-end:], corner[:, :AROUND], corner[:, -end:] = (False,) * 4
    return corner


def _sides(
    light: Floats, spread: Floats, corner: tuple[int, int], brightest: float
) -> tuple[int, int]:
    """Height and width of the block that begins at a corner; 0, 0 where there is none."""
    row, column = corner
    down, right = slice(row, row + MOST_SIDE + 1), slice(column, column + MOST_SIDE + 1)
    beside = min(light[row - 1, column], light[row, column - 1])
    dark = light[down, right] < max(DARK_SHARE * beside, DARK_SIGMA * spread[row, column])
    faint = TOLD_SHARE / 2 * beside
    # Most corners are the ragged edge of a spot: the shortest sides tell, and quickly.
    if not dark[:2, :2].all() or not _Around(light, row, column, 2, 2).may_be_block(beside):
        return 0, 0
    for height in _lengths(dark[:, 0], light[down, column - 1] > faint):
        for width in _lengths(dark[0], light[row - 1, right] > faint):
            if dark[:height, :width].all():
                around = _Around(light, row, column, height, width)
                if around.is_block(beside, brightest):
                    return height, width
    return 0, 0


def _lengths(dark: Flags, lit: Flags) -> range:
    """Lengths that a side may have, longest first, from its dark samples and the lit ones beside.

    A side ends where light begins again; where the light beside it ends first, what lies beyond is
    dark anyway, and any length will do.
    """
    run, beside = (int(np.argmin(np.append(flags, False))) for flags in (dark, lit))
    if min(run, beside) > MOST_SIDE or run < LEAST_SIDE:
        return range(0)
    if beside >= run:
        return range(run, run - 1, -1)
    return range(min(run, MOST_SIDE), LEAST_SIDE - 1, -1)


class _Around:
    """The three layers of samples outward from each side of a rectangle."""

    def __init__(self, light: Floats, row: int, column: int, height: int, width: int) -> None:
        rows, columns = slice(row, row + height), slice(column, column + width)
        layers = range(1, AROUND + 1)
        self.lit = (
            [light[row - k, columns] for k in layers],
            [light[rows, column - k] for k in layers],
        )
        self.far = (
            [light[row + height - 1 + k, columns] for k in layers],
            [light[rows, column + width - 1 + k] for k in layers],
        )
        self.across = float(light[row - 1, column - 1])

    def may_be_block(self, beside: float) -> bool:
        """Whether a longer block that begins at the same corner may be one, by its lit sides."""
        lit = [_undimmed(side, TOLD_SHARE * beside) for side in self.lit]
        return all(least > EACH_LIT for count, least, _ in lit if count)

    def is_block(self, beside: float, brightest: float) -> bool:
        """Whether light stands undimmed at the lit sides, and at the others where there is any."""
        told_from = TOLD_SHARE * beside
        far = [mean for side in self.far if (mean := _undimmed(side, told_from)[2]) is not None]
        if any(mean <= FAR_LIT for mean in far):
            return False
        lit = [_undimmed(side, told_from) for side in self.lit]
        if min(count for count, _, _ in lit) < LEAST_SIDE:
            return False
        least, means = min(least for _, least, _ in lit), [mean or 0.0 for _, _, mean in lit]
        if far:
            return least > EACH_LIT and min(means) > MEAN_LIT
        low, high = (share * beside for share in OPEN_CORNER)
        return (
            beside >= OPEN_TOP * brightest
            and low < self.across < high
            and least > OPEN_EACH
            and MEAN_LIT < min(means) <= max(means) < OPEN_MEAN
            and max(count for count, _, _ in lit) >= OPEN_SIDE
        )


def _undimmed(layers: list[Floats], told_from: float) -> tuple[int, float, float | None]:
    """How many samples of a side tell, and their light over what those behind foretell.

    The least of them and their mean; the mean is None where no sample tells.
    """
    told = layers[1] > told_from
    if not told.any():
        return 0, 0.0, None
    first, second, third = (layer[told] for layer in layers)
    foretold = second * np.clip(second / np.maximum(third, 1e-9), STEEPEST, 1.0)
    return int(told.sum()), float((first / foretold).min()), float(first.sum() / foretold.sum())
