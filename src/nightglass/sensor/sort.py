"""Which frame is what: cap on or lit, short or long, of which ISO; what does not belong."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from nightglass.gear.body import Body
from nightglass.optics.arrays import Floats
from nightglass.sensor.codes import LeftOut, Role
from nightglass.sensor.look import FrameLook
from nightglass.sensor.one_body import Sorting, has_iso, of_one_body, of_one_size, once
from nightglass.sensor.records import Said, Taken

LONGEST_BIAS_S = 1 / 30
"""A frame with the cap on holds hardly any dark current up to here."""
SHORTEST_DARK_S = 1.0
LIT_SIGMA, UNLIKE_COLOURS, LIT_SHARE = 2.0, 0.1, 0.1
"""Lit: above so many deviations with colours that differ by this share of the level, or above this
share of the range."""
UNEVEN_SIGMA = 1.0
"""Parts of a short frame with the cap on lie nearer together than this many deviations."""
GREY_SIGMA = 12.0
"""For a sensor without colours."""
CLIPPED_SHARE = 0.5
UNEVEN_RATIO, EDGE_RATIO = 16.0, 2.0
"""Evenly lit: the frame's parts differ by less than 4 stops, neighbours by less than one."""
LEAK_SIGMA = 0.1
"""Difference of the colours, in deviations of a sample, that is light in a frame taken in the
dark: dark current and glow of the electronics come alike in all colours."""
PAIR_RATIO = 1.25

Key = tuple[int, float]


@dataclass(frozen=True)
class Sorted:
    """The frames that count, by ISO, and what was taken for what."""

    bias: Mapping[int, tuple[FrameLook, ...]]
    darks: Mapping[Key, tuple[FrameLook, ...]]
    """By ISO and time."""
    flat_pairs: Mapping[int, tuple[tuple[FrameLook, FrameLook], ...]]
    lit: Mapping[int, tuple[FrameLook, ...]]
    """All lit frames, overexposed ones too: they show where the counts end."""
    taken: tuple[Taken, ...]
    findings: tuple[Said, ...]
    body: str | None
    serial: str | None


def sort_frames(looks: Sequence[FrameLook], body: Body | None) -> Sorted:
    """Return which frames are what. body: the bench's; None takes the body with most frames."""
    work = Sorting()
    own, name, serial = of_one_body(once(looks, work), body, work)
    own = [one for one in of_one_size(own, body, work) if has_iso(one, work)]
    dark: list[FrameLook] = []
    lit: list[FrameLook] = []
    for one in own:
        (lit if is_lit(one) else dark).append(one)
    bias, darks = _in_the_dark(dark, work)
    pairs: dict[int, tuple[tuple[FrameLook, FrameLook], ...]] = {}
    by_iso = _by_iso(lit, work)
    for iso, frames in by_iso.items():
        pairs[iso] = tuple(_pairs(_even(frames, work), work))
    return Sorted(
        bias, darks, pairs, {iso: tuple(frames) for iso, frames in by_iso.items()},
        tuple(work.taken.values()), tuple(work.findings), name, serial,
    )  # fmt: skip


def is_lit(one: FrameLook) -> bool:
    """Return whether light fell on a frame.

    It is bright, its colours differ as light's do, or, at a short time, its parts differ by more
    than the noise: the electronics have no time to glow.
    """
    levels = one.levels
    sigma = max(colour.sigma for colour in one.colours)
    full = float(np.nanmin(one.white - one.black))
    high, unlike = float(levels.max()), float(np.ptp(levels))
    seconds = one.metadata.exposure_true_s
    if seconds is not None and seconds <= LONGEST_BIAS_S:
        parts = one.cells[..., one.green.number]
        if not float(np.ptp(parts)) <= UNEVEN_SIGMA * max(sigma, 1.0):
            return True
    if high > LIT_SHARE * full:
        return True
    if levels.size == 1:
        return high > GREY_SIGMA * sigma
    return high > LIT_SIGMA * sigma and unlike > UNLIKE_COLOURS * high


def _by_iso(looks: Sequence[FrameLook], work: Sorting) -> dict[int, list[FrameLook]]:
    found: dict[int, list[FrameLook]] = {}
    for one in looks:
        found.setdefault(work.iso[one.name], []).append(one)
    return dict(sorted(found.items()))


def _in_the_dark(
    looks: Sequence[FrameLook], work: Sorting
) -> tuple[dict[int, tuple[FrameLook, ...]], dict[Key, tuple[FrameLook, ...]]]:
    """Bias frames by ISO and dark frames by ISO and time, those with light in them left out."""
    short: list[FrameLook] = []
    long: list[FrameLook] = []
    for one in looks:
        seconds = one.metadata.exposure_true_s
        if seconds is None:
            work.leave(one, LeftOut.TIME_UNKNOWN)
        elif seconds <= LONGEST_BIAS_S:
            short.append(one)
        elif seconds >= SHORTEST_DARK_S:
            long.append(one)
        else:
            work.leave(one, LeftOut.BETWEEN_TIMES, seconds=seconds)
    bias: dict[int, tuple[FrameLook, ...]] = {}
    for iso, frames in _by_iso(short, work).items():
        reference = min(frames, key=lambda one: float(np.nanmean(one.cells))).cells
        bias[iso] = tuple(_without_light(frames, reference, Role.BIAS, work))
    darks: dict[Key, tuple[FrameLook, ...]] = {}
    for iso, frames in _by_iso(long, work).items():
        known = bias.get(iso, ())
        ground = np.mean([one.cells for one in known], axis=0) if known else None
        for seconds in sorted({one.metadata.exposure_true_s or 0.0 for one in frames}):
            same = [one for one in frames if one.metadata.exposure_true_s == seconds]
            darks[iso, seconds] = tuple(_without_light(same, ground, Role.DARK, work))
    return (
        {iso: frames for iso, frames in bias.items() if frames},
        {key: frames for key, frames in darks.items() if frames},
    )


def _without_light(
    frames: Sequence[FrameLook], reference: Floats | None, role: Role, work: Sorting
) -> list[FrameLook]:
    """Frames whose colours agree all over; without a reference, each colour with its own mean."""
    kept = []
    for one in frames:
        present = [colour.number for colour in one.colours]
        ground = np.nanmean(one.cells, axis=(0, 1)) if reference is None else reference
        above = (one.cells - ground)[..., present]
        sigma = max(max(colour.sigma for colour in one.colours), 0.3)
        # A part so bright that none of its samples counted is light, too.
        unlike = float(np.max(np.nan_to_num(np.ptp(above, axis=-1), nan=one.white[present[0]])))
        # Means of a cell scatter too, in small frames more than the limit.
        scatter = 6 * sigma * float(np.sqrt(2 * above[..., 0].size / one.colours[0].samples))
        if unlike > LEAK_SIGMA * sigma + scatter:
            work.leave(one, LeftOut.LIGHT_LEAK, counts=unlike)
        else:
            work.take(one, role)
            kept.append(one)
    return kept


def _even(frames: Sequence[FrameLook], work: Sorting) -> list[FrameLook]:
    """Lit frames that can make pairs: not overexposed, no edge of a cap or a scene in them."""
    kept = []
    for one in frames:
        green = one.green
        cells = one.cells[..., green.number] - one.black[green.number]
        steps = [np.abs(np.diff(np.log(np.maximum(cells, 1e-3)), axis=k)).max() for k in (0, 1)]
        ratio = float(cells.max() / max(cells.min(), 1e-3))
        if green.clipped_share > CLIPPED_SHARE:
            work.take(one, Role.OVEREXPOSED)
        elif not np.isfinite(cells).all():
            # A part of the frame so far from the rest that none of its samples counted.
            work.leave(one, LeftOut.NOT_EVEN, stops=float("inf"))
        elif ratio > UNEVEN_RATIO or max(steps) > np.log(EDGE_RATIO):
            work.leave(one, LeftOut.NOT_EVEN, stops=float(np.log2(ratio)))
        else:
            kept.append(one)
    return kept


def _pairs(frames: Sequence[FrameLook], work: Sorting) -> list[tuple[FrameLook, FrameLook]]:
    """Neighbours in time of one setting whose levels are near enough."""
    settings: dict[tuple[float | None, float | None], list[FrameLook]] = {}
    for one in sorted(frames, key=_when):
        settings.setdefault((one.metadata.exposure_true_s, one.metadata.f_number), []).append(one)
    found = []
    for same in settings.values():
        left = list(same)
        while left:
            first = left.pop(0)
            ratio = [abs(float(np.log(first.levels.max() / o.levels.max()))) for o in left]
            fits = next((k for k, r in enumerate(ratio) if r < np.log(PAIR_RATIO)), None)
            if fits is None:
                work.leave(first, LeftOut.ALONE)
                continue
            second = left.pop(fits)
            for one in (first, second):
                work.take(one, Role.FLAT)
            found.append((first, second))
    return sorted(found, key=lambda pair: float(pair[0].levels.max()))


def _when(one: FrameLook) -> tuple[str, str]:
    taken = one.metadata.taken_at
    return (taken.isoformat() if taken else "", one.name)
