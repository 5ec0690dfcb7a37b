"""Clipping levels pooled over the frames of a body, ISO and exposure mode."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace

from nightglass.bench.store.rows import FrameOnRecord
from nightglass.frame.levels import TopSamples, pooled_clipping
from nightglass.spot.record import Spot

GREEN = 1
"""Colour number of green, and of grey."""
REACHED = 0.998
"""Share of the pooled level from which the brightest sample counts as clipped: the level is what
95 % of the piled-up samples reach, so the rest lie a little below it."""


def with_pooled_clipping(
    frames: Sequence[FrameOnRecord], spots: Mapping[str, Spot]
) -> dict[str, Spot]:
    """Return the green spots by path, peak_share and `clipped` by levels that all frames show.

    One frame may hold too few clipped samples to show the level; a hundred of one body, ISO and
    mode do. A spot that reaches the common level gets the flag `clipped`.
    """
    groups: dict[tuple[object, ...], list[tuple[str, TopSamples]]] = defaultdict(list)
    for frame in frames:
        if frame.levels is not None:
            recorded = frame.metadata
            top = _top_samples(frame.levels)
            # Frames that record no body are told apart by their pixels.
            size = frame.width_px, frame.height_px
            key = (recorded.body, size, recorded.iso, recorded.exposure_mode, len(top.values))
            groups[key].append((frame.path, top))
    found = dict(spots)
    for several in groups.values():
        pooled = pooled_clipping(top for _, top in several)
        for path, top in several:
            if path in found and len(top.values) > GREEN:
                level = pooled.levels[GREEN]
                found[path] = _held_against(found[path], top, level, pooled.clipping_from)
    return found


def _held_against(spot: Spot, top: TopSamples, level: float, clipping_from: str) -> Spot:
    black, used = top.black[GREEN], top.file_clipping[GREEN]
    if spot.peak_share is None or not black < level < used:
        return spot
    peak = spot.peak_share * (used - black) / (level - black)
    flags = spot.flags
    if peak >= REACHED and "clipped" not in flags:
        flags = (*flags, "clipped")
    return replace(spot, peak_share=peak, flags=flags, clipping_from=clipping_from)


def _top_samples(levels: Mapping[str, object]) -> TopSamples:
    """The record that went into the store as JSON."""
    black, ceiling, values = (levels[name] for name in ("black", "file_clipping", "values"))
    if not (isinstance(black, list) and isinstance(ceiling, list) and isinstance(values, list)):
        raise ValueError("levels on record have another form; measure again into a new store")
    return TopSamples(
        tuple(float("nan") if v is None else float(v) for v in black),
        tuple(float("nan") if v is None else float(v) for v in ceiling),
        tuple(tuple((float(v), int(n)) for v, n in colour) for colour in values),
    )
