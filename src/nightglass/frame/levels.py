"""Clipping levels from the data: where the samples of a colour pile up under a ceiling."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from nightglass.frame.record import ClippingFrom, ColourTop, Frame
from nightglass.frame.record import TopSamples as TopSamples
from nightglass.optics.arrays import Floats

PILE_UP_SAMPLES = 50
TOP_SHARE = 1e-3
"""At least 50 samples in the topmost 0.1 % of the range in use (docs/glossary.md)."""
LOWEST_CEILING = 0.2
"""A frame whose brightest sample lies under this share of the file's range can't show a ceiling:
its equal dark samples are no pile-up. Two bits lost (12 in a file that says 14) leave a quarter."""
MAD_TO_SIGMA = 1.4826
CLEAR_OF_SKY = 30.0
"""Standard deviations of the sky above it, where the file says no ceiling: far beyond noise."""
SPARSE = 7
BLOCK_ROWS = 128


@dataclass(frozen=True)
class Clipping:
    """Clipping level per colour number [counts] and where it comes from."""

    levels: tuple[float, ...]
    clipping_from: ClippingFrom


def top_samples(frame: Frame) -> TopSamples:
    """Return the brightest samples per colour number, before any clipping level is known.

    A frame that open_frame gave has kept them, with the file's own level. Colours that the
    pattern lacks give an empty entry. Works in blocks of rows: no map of the whole frame is made.
    """
    if frame.top is not None:
        return frame.top
    colours = 3 if frame.samples.ndim == 3 else int(frame.pattern.max()) + 1
    black, ceiling = (_per_colour(frame, tile, colours) for tile in (frame.black, frame.clipping))
    highest = _highest(frame, colours)
    lowest = np.where(np.isfinite(highest), highest - TOP_SHARE * (highest - black), np.inf)
    # Dark colours can't show a ceiling: leaving them out keeps the second pass empty for them.
    least = np.where(
        np.isfinite(ceiling), black + LOWEST_CEILING * (ceiling - black), _clear_of_sky(frame)
    )
    lowest = np.where(highest > least, lowest, np.inf)
    found: list[dict[float, int]] = [{} for _ in range(colours)]
    if np.isfinite(lowest).any():
        _count_top(frame, lowest, found)
    return TopSamples(
        tuple(black.tolist()),
        tuple(ceiling.tolist()),
        tuple(tuple(sorted(counts.items())) for counts in found),
    )


def pooled_clipping(tops: Iterable[TopSamples]) -> Clipping:
    """Return the clipping level per colour over frames of the same body, ISO and mode.

    A colour whose samples pile up (at least 50 in the topmost 0.1 % of the range in use over all
    frames) clips at the level that 95 % of the pile reach, at most the file's white level; else
    at the file's. "data" where a colour's level was seen, "unknown" where no file says one: it is
    then infinite. Raises ValueError without frames, or
    for frames with different colours.
    """
    frames = list(tops)
    if not frames:
        raise ValueError("no frames to pool: give at least one")
    if len({len(top.values) for top in frames}) > 1:
        raise ValueError("frames with different colours: pool frames of one body and mode")
    levels, seen = [], False
    for colour in range(len(frames[0].values)):
        file_level = min(top.file_clipping[colour] for top in frames)
        black = frames[0].black[colour]
        level = _pile_up([top.values[colour] for top in frames], black)
        seen = seen or level is not None
        levels.append(file_level if level is None else min(level, file_level))
    known = any(math.isfinite(level) for level in levels)
    return Clipping(tuple(levels), "data" if seen else "file" if known else "unknown")


def with_clipping(frame: Frame, clipping: Clipping) -> Frame:
    """Return the frame with the given clipping levels; the samples are shared, not copied."""
    levels = np.asarray(clipping.levels, dtype=np.float64)
    tile = levels.reshape(1, 3) if frame.samples.ndim == 3 else levels[frame.pattern]
    return replace(frame, clipping=tile, clipping_from=clipping.clipping_from)


def _per_colour(frame: Frame, tile: Floats, colours: int) -> Floats:
    if frame.samples.ndim == 3:
        return tile.reshape(3)
    return np.array(
        [
            tile[frame.pattern == colour].min() if (frame.pattern == colour).any() else np.nan
            for colour in range(colours)
        ]
    )


def _clear_of_sky(frame: Frame) -> float:
    """The level [counts] that only stars reach, for files that say no ceiling.

    Without one a dark frame of few counts would pile up at its own highest count.
    """
    if np.isfinite(frame.clipping).all():
        return np.inf
    sky = frame.samples[::SPARSE, ::SPARSE].astype(np.float64)
    level = float(np.median(sky))
    return level + CLEAR_OF_SKY * MAD_TO_SIGMA * float(np.median(np.abs(sky - level)))


def _highest(frame: Frame, colours: int) -> Floats:
    highest = np.full(colours, -np.inf)
    if frame.samples.ndim == 3:
        return frame.samples.reshape(-1, 3).max(axis=0).astype(np.float64)
    rows, columns = frame.pattern.shape
    for row in range(min(rows, frame.height_px)):
        # Whole rows first: a maximum down contiguous rows runs at memory speed.
        line = frame.samples[row::rows].max(axis=0)
        for column in range(min(columns, frame.width_px)):
            colour = frame.pattern[row, column]
            highest[colour] = max(highest[colour], float(line[column::columns].max()))
    return highest


def _count_top(frame: Frame, lowest: Floats, found: Sequence[dict[float, int]]) -> None:
    floor = lowest[np.isfinite(lowest)].min()
    if frame.samples.dtype == np.uint16:
        floor = np.uint16(np.floor(floor))
    for top in range(0, frame.height_px, BLOCK_ROWS):
        block = frame.samples[top : top + BLOCK_ROWS]
        lines = np.nonzero(block.reshape(len(block), -1).max(axis=1) >= floor)[0]
        if not lines.size:
            continue
        bright = np.nonzero(block[lines] >= floor)
        values = block[lines][bright].astype(np.float64)
        if block.ndim == 3:
            colours = bright[2].astype(np.uint8)
        else:
            rows, columns = frame.pattern.shape
            colours = frame.pattern[(lines[bright[0]] + top) % rows, bright[1] % columns]
        for colour in np.unique(colours):
            mine = values[(colours == colour) & (values >= lowest[colour])]
            for value, count in zip(*np.unique(mine, return_counts=True), strict=True):
                counts = found[colour]
                counts[float(value)] = counts.get(float(value), 0) + int(count)


def _pile_up(tops: Sequence[ColourTop], black: float) -> float | None:
    pairs = [pair for top in tops for pair in top]
    if not pairs:
        return None
    values = np.array([value for value, _ in pairs])
    counts = np.array([count for _, count in pairs])
    highest = values.max()
    inside = values >= highest - TOP_SHARE * (highest - black)
    values, counts = values[inside], counts[inside]
    if counts.sum() < PILE_UP_SAMPLES:
        return None
    order = np.argsort(values)
    below = np.cumsum(counts[order])
    return float(values[order][np.searchsorted(below, 0.05 * below[-1])])
