"""What to say of a frame as it lands, held against the other frames of its setting and place."""

from __future__ import annotations

import math
import statistics
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from nightglass.bench.combined.sightings import Sighting
from nightglass.shoot.codes import SHOOT_AGAIN, FrameWord
from nightglass.shoot.exposures import LEAST_PEAK, MOST_PEAK
from nightglass.spot.record import Spot

LEAST_SNR = 50.0
"""Under this the sizes follow the noise (common practice)."""
OUT_OF_FOCUS_TIMES = 1.2
"""Acceptable focus ends where the spot is 1.2 times the best (docs/glossary.md)."""
SURE_SIGMAS = 3.0
SAME_WIDTH_TIMES = 1.1
"""A camera that moves draws the spot out one way: across, it stays as it was."""
SAME_PIXEL_PLACE_PX = 0.3
FOR_SURE_MOVED = 2
"""Other frames that it takes to tell a moved camera from a spot that is so."""


@dataclass(frozen=True)
class Judged:
    """Words for a frame, and how it compares."""

    words: tuple[FrameWord, ...]
    compared_with: int = 0
    size_times: float | None = None
    """Its ee50_px over the median of the others."""

    @property
    def again(self) -> bool:
        """Whether the frame is to be shot again."""
        return not SHOOT_AGAIN.isdisjoint(self.words)


def judge_spot(spot: Spot, others: Sequence[Spot], scatter: float) -> Judged:
    """Return what is wrong with a spot, if anything.

    others: spots of the same setting and place; those without a size count for nothing. scatter:
    relative, of a single repeat. Focus can only be judged against other frames: the first one of a
    place is NOT_COMPARED.
    """
    flags = set(spot.flags)
    if flags & {"lost", "not a star"}:
        return Judged((FrameWord.LOST,))
    if "clipped" in flags:
        return Judged((FrameWord.CLIPPED,))
    if spot.snr is not None and spot.snr < LEAST_SNR:
        return Judged((FrameWord.FAINT,))
    usable = [other for other in others if not {"clipped", "lost", "not a star"} & set(other.flags)]
    size = _compared(spot.ee50_px, [o.ee50_px for o in usable], scatter)
    words = _size_words(spot, usable, size, scatter)
    if not SHOOT_AGAIN & set(words):
        # A spot out of focus has a low peak for that reason: its exposure may be right.
        words += _exposure_words(spot)
    if any(_same_pixel_place(spot, other) for other in usable):
        words.append(FrameWord.ONE_PIXEL_PLACE)
    return Judged(tuple(words) or (FrameWord.GOOD,), size.number, size.times)


def judge_all(frames: Iterable[Sighting], scatter: float) -> dict[str, Judged]:
    """Return what is said of every frame on record, by path, each against the others."""
    groups: dict[object, list[Sighting]] = {}
    for frame in frames:
        groups.setdefault((frame.belongs.setting, frame.place), []).append(frame)
    return {
        frame.frame.path: judge_spot(frame.spot, [o.spot for o in group if o is not frame], scatter)
        for group in groups.values()
        for frame in group
    }


def paths_again(judged: Mapping[str, Judged]) -> frozenset[str]:
    """Return the paths of the frames that are to be shot again."""
    return frozenset(path for path, one in judged.items() if one.again)


@dataclass(frozen=True)
class _Compared:
    """A size against the median of others."""

    number: int
    times: float | None
    larger: bool = False
    smaller: bool = False


def _compared(value: float | None, others: Sequence[float | None], scatter: float) -> _Compared:
    known = [other for other in others if other is not None and other > 0]
    if value is None or value <= 0 or not known:
        return _Compared(0, None)
    times = value / statistics.median(known)
    # The others' median is not the truth either.
    sure = SURE_SIGMAS * scatter * math.sqrt(1 + 1 / len(known))
    least = max(math.log(OUT_OF_FOCUS_TIMES), sure)
    return _Compared(len(known), times, math.log(times) > least, math.log(times) < -least)


def _size_words(
    spot: Spot, others: Sequence[Spot], size: _Compared, scatter: float
) -> list[FrameWord]:
    if size.times is None:
        return [] if "at limit" in spot.flags else [FrameWord.NOT_COMPARED]
    length = _compared(spot.length_px, [o.length_px for o in others], scatter)
    width = _compared(spot.width_px, [o.width_px for o in others], scatter)
    if length.larger and length.number >= FOR_SURE_MOVED and (width.times or 9) < SAME_WIDTH_TIMES:
        return [FrameWord.MOVED]
    if size.larger:
        return [FrameWord.OUT_OF_FOCUS]
    return [FrameWord.SHARPER_THAN_BEFORE] if size.smaller else []


def _exposure_words(spot: Spot) -> list[FrameWord]:
    if spot.peak_share is None:
        return []
    if spot.peak_share > MOST_PEAK:
        return [FrameWord.BRIGHT]
    # At limit the peak is a lower bound: its nucleus may have fallen on another colour.
    dim = spot.peak_share < LEAST_PEAK and "at limit" not in spot.flags
    return [FrameWord.DIM] if dim else []


def _same_pixel_place(one: Spot, other: Spot) -> bool:
    if one.x_px is None or one.y_px is None or other.x_px is None or other.y_px is None:
        return False
    return math.hypot(one.x_px - other.x_px, one.y_px - other.y_px) < SAME_PIXEL_PLACE_PX
