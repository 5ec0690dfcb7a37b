"""What pairs of dark frames of one time tell: level, noise, pattern, bands."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from nightglass.frame.open import open_frame
from nightglass.frame.record import Frame
from nightglass.optics.arrays import Floats
from nightglass.sensor.bands import Bands, bands
from nightglass.sensor.dark import hot_share
from nightglass.sensor.look import FrameLook
from nightglass.sensor.pairs import TilePairs, tile_pairs
from nightglass.sensor.records import UNKNOWN, Known


@dataclass(frozen=True)
class DarkPairs:
    """Dark frames of one ISO and time; arrays by colour number [counts, counts^2]."""

    frames: int
    level: Floats
    """Mean of all frames."""
    means: tuple[Floats, ...]
    """Of each frame."""
    variance: tuple[Known, ...]
    """In time, of a sample within its row; nothing without a pair."""
    pattern: tuple[Known, ...]
    """Variance of the pixels that stays, rows left out."""
    spread: Floats
    """Deviation of the pixels' levels, slow changes over the frame included."""
    correlation: tuple[float, float]
    """Of neighbours of one colour: in the row, in the column."""
    correlation_err: float
    bands: Bands | None
    hot_per_mpx: Known


def dark_pairs(looks: Sequence[FrameLook], want_hot: bool = False) -> DarkPairs:
    """Return what frames in the dark tell; they are opened two by two, each once."""
    means = tuple(np.nanmean(one.cells, axis=(0, 1)) for one in looks)
    level = np.mean(means, axis=0)
    tiles: list[TilePairs] = []
    lines: list[Bands] = []
    hot: list[Known] = []
    for first, second in zip(looks[0::2], looks[1::2], strict=False):
        a, b = open_frame(first.path), open_frame(second.path)
        found = tile_pairs(a, b, level, lit=False)
        tiles.append(found)
        own = [np.nan if v.value is None else v.value for v in _pooled(found, level.size)]
        sigma = np.sqrt(np.array(own))
        lines.append(bands(a, b, level, sigma))
        if want_hot:
            hot.append(_hot(a, b, level, sigma))
    if want_hot and len(looks) == 1:
        sigma = np.full(level.size, np.nan)
        for colour in looks[0].colours:
            sigma[colour.number] = max(colour.sigma, 0.5)
        hot.append(_hot(open_frame(looks[0].path), None, level, sigma))
    return _gathered(looks, (level, means), tiles, lines, hot)


def pooled(values: Floats, free: Floats) -> Known:
    """Return the mean variance over tiles, weighted by their samples, with its error.

    The error is that of the count of samples, or the tiles' own scatter if that is larger.
    """
    good = np.isfinite(values) & np.isfinite(free)
    if not good.any():
        return UNKNOWN
    v, n = values[good], free[good]
    mean = float(np.average(v, weights=n))
    chance = abs(mean) * float(np.sqrt(2 / n.sum()))
    scatter = float(np.std(v, ddof=1)) / np.sqrt(v.size) if v.size > 1 else 0.0
    return Known(mean, max(chance, float(scatter)))


def _pooled(found: TilePairs, colours: int) -> list[Known]:
    return [pooled(found.variance[:, k], found.samples[:, k]) for k in range(colours)]


def _hot(a: Frame, b: Frame | None, level: Floats, sigma: Floats) -> Known:
    return hot_share(a, b, level, np.maximum(sigma, 0.5))


def _gathered(
    looks: Sequence[FrameLook],
    levels: tuple[Floats, tuple[Floats, ...]],
    tiles: Sequence[TilePairs],
    lines: Sequence[Bands],
    hot: Sequence[Known],
) -> DarkPairs:
    level, means = levels
    colours = level.size
    slow = np.array([float(np.nanstd(looks[0].cells[..., k])) for k in range(colours)])
    if not tiles:
        nothing = (UNKNOWN,) * colours
        none = hot[0] if hot else UNKNOWN
        return DarkPairs(
            len(looks), level, means, nothing, nothing, slow, (0.0, 0.0), np.inf, None, none
        )
    free = np.concatenate([t.samples for t in tiles])
    variance = np.concatenate([t.variance for t in tiles])
    shared = np.concatenate([t.pattern for t in tiles])
    pattern = tuple(_mean(shared[:, k]) for k in range(colours))
    own = np.array([max(p.value or 0.0, 0.0) for p in pattern])
    turned = [np.concatenate([getattr(t, way) for t in tiles]) for way in ("across", "down")]
    across, down = (float(np.nanmean(one)) for one in turned)
    return DarkPairs(
        frames=len(looks),
        level=level,
        means=means,
        variance=tuple(pooled(variance[:, k], free[:, k]) for k in range(colours)),
        pattern=pattern,
        spread=np.sqrt(own + slow**2),
        correlation=(across, down),
        correlation_err=1 / float(np.sqrt(np.nansum(free))),
        bands=_mean_bands(lines),
        hot_per_mpx=hot[0] if hot else UNKNOWN,
    )


def _mean(values: Floats) -> Known:
    good = values[np.isfinite(values)]
    if good.size < 2:
        return Known(float(good[0]), abs(float(good[0]))) if good.size else UNKNOWN
    return Known(float(good.mean()), float(good.std(ddof=1)) / float(np.sqrt(good.size)))


def _mean_bands(lines: Sequence[Bands]) -> Bands:
    def together(name: str) -> Known:
        values = [getattr(one, name) for one in lines]
        err = float(np.sqrt(sum((v.err or 0.0) ** 2 for v in values))) / len(values)
        return Known(float(np.mean([v.value for v in values])), err)

    return Bands(
        *(together(k) for k in ("row_noise", "row_pattern", "column_noise", "column_pattern"))
    )
