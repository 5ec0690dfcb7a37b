"""What pairs of evenly lit frames of one ISO tell: points of the transfer curve, levels, ends."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from nightglass.frame.levels import Clipping, pooled_clipping
from nightglass.frame.open import open_frame
from nightglass.optics.arrays import Floats
from nightglass.sensor.linearity import TimedLevel
from nightglass.sensor.look import FrameLook
from nightglass.sensor.pairs import TilePairs, tile_pairs

CENTRE_SHARE = 1 / 3
"""Levels are compared in the middle third of the frame, where the light falls off least."""
MOST_PATTERN = 0.04
"""Unlike pixels differ by about 1 %: beyond this share it is a scene, a screen's dots or dust."""


@dataclass(frozen=True)
class FlatPair:
    """One pair of lit frames."""

    looks: tuple[FrameLook, FrameLook]
    tiles: TilePairs
    step: Floats
    """Distance of the values in use, by colour number [counts]; 1 where it is not known."""
    step_known: bool

    @property
    def ratio(self) -> float:
        """Level of the second frame over the first's, in green or the only colour."""
        k = self.looks[0].green.number
        return float(np.nanmedian(self.tiles.second[:, k] / self.tiles.first[:, k]))

    def middle(self) -> float:
        """Mean level above black in the middle of the frame [counts], nan if it is clipped."""
        height, width = self.looks[0].shape
        near = np.abs(self.tiles.tile_x_px - width / 2) < CENTRE_SHARE * width / 2
        near &= np.abs(self.tiles.tile_y_px - height / 2) < CENTRE_SHARE * height / 2
        k = self.looks[0].green.number
        level = (self.tiles.first[near, k] + self.tiles.second[near, k]) / 2
        return float(np.mean(level)) if level.size else float("nan")

    def pattern_share(self, colour: int) -> tuple[float, float]:
        """Share by which pixels differ in a tile, squared, and its error; the mean over tiles."""
        share = self.tiles.pattern[:, colour] / self.tiles.first[:, colour] ** 2
        good = share[np.isfinite(share)]
        if good.size < 2:
            return 0.0, float("inf")
        return float(good.mean()), float(good.std(ddof=1) / np.sqrt(good.size))


def flat_pair(
    pair: tuple[FrameLook, FrameLook], black: Floats, step: Callable[[int], float | None]
) -> FlatPair:
    """Return a pair measured. step: distance of the values in dark frames by colour, if known."""
    a, b = open_frame(pair[0].path), open_frame(pair[1].path)
    steps = np.ones(black.size)
    known = False
    for colour in pair[0].colours:
        own = colour.step or step(colour.number)
        known = known or colour.step is not None
        steps[colour.number] = own or 1.0
    return FlatPair(pair, tile_pairs(a, b, black, lit=True), steps, known)


def shows_a_scene(pair: FlatPair, dark_pattern: float) -> bool:
    """Return whether what both frames share is more than unlike pixels.

    dark_pattern: variance of the pixels' levels in the dark [counts^2].
    """
    number = pair.looks[0].green.number
    share, err = pair.pattern_share(number)
    share -= dark_pattern / float(np.nanmedian(pair.tiles.level[:, number])) ** 2
    return share > MOST_PATTERN**2 and share > 5 * err


def timed_levels(pairs: Sequence[FlatPair]) -> list[TimedLevel]:
    """Return levels with their times, of the f-number with most pairs."""
    by_opening: dict[float | None, list[TimedLevel]] = {}
    for pair in pairs:
        seconds, middle = pair.looks[0].metadata.exposure_true_s, pair.middle()
        if seconds is not None and np.isfinite(middle):
            key = pair.looks[0].metadata.f_number
            by_opening.setdefault(key, []).append(TimedLevel(seconds, middle, pair.ratio))
    return max(by_opening.values(), key=len, default=[])


def clipping_of(lit: Sequence[FrameLook], file_level: Floats) -> tuple[Floats, str]:
    """Return where the counts of each colour end, and whether the frames or the file say so."""
    if not lit:
        return file_level, "file"
    found: Clipping = pooled_clipping([one.top for one in lit])
    return np.array(found.levels, dtype=np.float64), found.clipping_from
