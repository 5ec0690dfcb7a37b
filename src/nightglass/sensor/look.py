"""A first look at a frame: how bright each colour is, how even, which counts it uses."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from nightglass.frame.levels import TopSamples, top_samples
from nightglass.frame.open import open_frame
from nightglass.frame.record import Frame, Metadata
from nightglass.optics.arrays import Counts, Floats, Ints64
from nightglass.optics.compiled import compiled
from nightglass.optics.extent import MAD_TO_SIGMA

CELL_ROWS, CELL_COLUMNS = 8, 12
REACH_SIGMA = 6.0
"""Samples farther from the median are hot pixels: they stay out of the means of dark cells."""
TAIL = 0.005
LEAST_VALUES, LEAST_EACH = 8, 25
"""Values that a colour spreads over, and samples that each may expect, from which a gap is one."""
SMALLEST_SIDE_PX = 96
LEAST_SPREAD, MOST_LOWEST, CUT_REACH = 1.5, 0.01, 0.8


@dataclass(frozen=True)
class ColourLook:
    """One colour of a frame [counts]."""

    number: int
    samples: int
    median: float
    sigma: float
    """Deviation by the median of distances."""
    lowest: float
    lowest_share: float
    """Share of the samples at the lowest value."""
    upper: float
    """The value under which 99 % lie."""
    clipped_share: float
    step: float | None
    """Mean distance of the values in use; None where too few samples tell."""

    @property
    def cut_below(self) -> bool:
        """Whether a dark frame's noise is cut off on its dark side.

        Noise reaches as far down as up; the standard allows 0.5 % of the samples at the bottom
        (EMVA 1288 Release 3.1, clause 6.5). Noise within one count can't tell.
        """
        down, up = self.median - self.lowest, self.upper - self.median
        spread = self.upper - self.lowest
        return spread >= LEAST_SPREAD and self.lowest_share > MOST_LOWEST and down < CUT_REACH * up


@dataclass(frozen=True)
class FrameLook:
    """What the first look at a file shows."""

    path: Path
    name: str
    content_hash: str
    metadata: Metadata
    shape: tuple[int, int]
    pattern: NDArray[np.uint8]
    black: Floats
    """The file's black per colour number, (colours,)."""
    clipping: Floats
    """Where its own samples pile up, else the file's level, per colour number."""
    colours: tuple[ColourLook, ...]
    cells: Floats
    """Mean of each part of the frame, (8, 12, colours) [counts]."""
    top: TopSamples

    @property
    def levels(self) -> Floats:
        """Mean of each colour that the mosaic has, above the file's black [counts]."""
        found = np.nanmean(self.cells, axis=(0, 1)) - self.black
        return found[[colour.number for colour in self.colours]]

    @property
    def white(self) -> Floats:
        """The level at which the file says that counts end, per colour number."""
        return np.array(self.top.file_clipping, dtype=np.float64)

    @property
    def green(self) -> ColourLook:
        """Green, or the only colour."""
        return next((c for c in self.colours if c.number == 1), self.colours[0])


def look_at(path: Path, name: str) -> FrameLook:
    """Return the first look at a raw file.

    Raises FrameError for a file that can't be opened and ValueError for one without a mosaic or
    too small.
    """
    return look_at_frame(open_frame(path), path, name)


def look_at_frame(frame: Frame, path: Path, name: str) -> FrameLook:
    """Return the first look at an opened raw frame; as look_at otherwise."""
    if frame.kind != "mosaic" or frame.samples.dtype != np.uint16:
        raise NoMosaicError(name)
    if min(frame.samples.shape) < SMALLEST_SIDE_PX:
        raise TooSmallError(name)
    return look(frame, path, name)


class NoMosaicError(ValueError):
    """A file that holds no raw mosaic."""


class TooSmallError(ValueError):
    """A frame too small to tell noise."""


def look(frame: Frame, path: Path = Path(), name: str = "") -> FrameLook:
    """Return the first look at an opened frame of a mosaic."""
    samples: Counts = np.ascontiguousarray(frame.samples).astype(np.uint16, copy=False)
    count = int(frame.pattern.max()) + 1
    black, clipping = (
        np.array([_of_colour(tile, frame.pattern, k) for k in range(count)])
        for tile in (frame.black, frame.clipping)
    )
    found = tuple(
        _colour(histogram, k, float(clipping[k]))
        for k in range(count)
        if (histogram := _histogram(samples, frame.pattern, k)).any()
    )
    centre, reach = np.zeros(count), np.full(count, np.inf)
    for colour in found:
        centre[colour.number] = colour.median
        lit = colour.median - black[colour.number] > REACH_SIGMA * colour.sigma
        reach[colour.number] = np.inf if lit else REACH_SIGMA * max(colour.sigma, 1.0)
    cells = _cells(samples, frame.pattern.astype(np.int64), centre, reach)
    return FrameLook(
        path, name or frame.file, frame.content_hash, frame.metadata,
        (frame.height_px, frame.width_px), frame.pattern, black, clipping, found, cells,
        top_samples(frame),
    )  # fmt: skip


def _of_colour(tile: Floats, pattern: NDArray[np.uint8], colour: int) -> float:
    p, q = pattern.shape
    if not (pattern == colour).any():
        return np.nan
    # The file's black may repeat at another pace than the mosaic.
    wide = np.tile(tile, (p, q))[: max(p, tile.shape[0]), : max(q, tile.shape[1])]
    spread = np.tile(pattern, (tile.shape[0], tile.shape[1]))[: wide.shape[0], : wide.shape[1]]
    return float(np.mean(wide[spread == colour]))


def _histogram(samples: Counts, pattern: NDArray[np.uint8], colour: int) -> Ints64:
    p, q = pattern.shape
    total = np.zeros(65536, dtype=np.int64)
    for row, column in zip(*np.nonzero(pattern == colour), strict=True):
        total += np.bincount(samples[row::p, column::q].ravel(), minlength=65536)
    return total


def _colour(histogram: Ints64, number: int, clipping: float) -> ColourLook:
    total = int(histogram.sum())
    below = np.cumsum(histogram)
    median = _quantile(histogram, below, 0.5)
    values = np.arange(histogram.size)
    used = np.flatnonzero(histogram)
    distance = np.abs(values[used] - median)
    order = np.argsort(distance, kind="stable")
    half = np.searchsorted(np.cumsum(histogram[used][order]), total / 2)
    lowest = int(used[0])
    return ColourLook(
        number=number,
        samples=total,
        median=median,
        sigma=MAD_TO_SIGMA * float(distance[order][min(half, order.size - 1)]),
        lowest=float(lowest),
        lowest_share=float(histogram[lowest]) / total,
        upper=_quantile(histogram, below, 0.99),
        clipped_share=float(histogram[min(int(np.ceil(clipping)), 65535) :].sum()) / total,
        step=_step(histogram, below, clipping),
    )


def _quantile(histogram: Ints64, below: Ints64, share: float) -> float:
    """The value under which a share of the samples lies, between whole counts."""
    wanted = share * below[-1]
    k = int(np.searchsorted(below, wanted))
    before = below[k - 1] if k else 0
    return float(k - 0.5 + (wanted - before) / histogram[k])


def _step(histogram: Ints64, below: Ints64, clipping: float) -> float | None:
    """Mean distance of the values in use between the tails."""
    total = below[-1]
    first, last = (int(np.searchsorted(below, share * total)) for share in (TAIL, 1 - TAIL))
    last = min(last, int(clipping) - 1)
    inside = histogram[first : last + 1]
    used = np.flatnonzero(inside)
    if used.size < LEAST_VALUES or inside.sum() < LEAST_EACH * inside.size:
        return None
    return float(used[-1] - used[0]) / (used.size - 1)


@compiled
def _cells(samples: Counts, pattern: NDArray[np.int64], centre: Floats, reach: Floats) -> Floats:
    height, width = samples.shape
    p, q = pattern.shape
    sums = np.zeros((CELL_ROWS, CELL_COLUMNS, centre.size))
    counts = np.zeros((CELL_ROWS, CELL_COLUMNS, centre.size))
    for y in range(height):
        row = min(y * CELL_ROWS // height, CELL_ROWS - 1)
        for x in range(width):
            colour = pattern[y % p, x % q]
            value = float(samples[y, x])
            if abs(value - centre[colour]) <= reach[colour]:
                column = x * CELL_COLUMNS // width
                sums[row, column, colour] += value
                counts[row, column, colour] += 1
    for i in range(CELL_ROWS):
        for j in range(CELL_COLUMNS):
            for k in range(centre.size):
                sums[i, j, k] = sums[i, j, k] / counts[i, j, k] if counts[i, j, k] else np.nan
    return sums
