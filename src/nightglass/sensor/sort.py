"""Which frame is what: cap on or lit, short or long, of which ISO; what does not belong."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from nightglass.gear.body import Body, same_body
from nightglass.optics.arrays import Floats
from nightglass.sensor.codes import Finding, LeftOut, Role
from nightglass.sensor.look import FrameLook
from nightglass.sensor.records import Said, Taken

LONGEST_BIAS_S = 1 / 30
"""A frame with the cap on holds hardly any dark current up to here."""
SHORTEST_DARK_S = 1.0
LIT_SIGMA, UNLIKE_COLOURS, LIT_SHARE = 2.0, 0.1, 0.1
"""Lit: above so many deviations with colours that differ by this share of the level, or above this
share of the range."""
GREY_SIGMA = 12.0
"""For a sensor without colours."""
CLIPPED_SHARE = 0.5
UNEVEN_RATIO, EDGE_RATIO = 16.0, 2.0
"""Evenly lit: the frame's parts differ by less than 4 stops, neighbours by less than one."""
LEAK_SIGMA = 0.1
"""Difference of the colours, in deviations of a sample, that is light in a frame taken in the
dark: dark current and glow of the electronics come alike in all colours."""
PAIR_RATIO = 1.25
NAMED_ISO = re.compile(r"(?<![a-z])iso[ _-]?(\d{2,7})", re.IGNORECASE)

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


@dataclass
class _Sorting:
    """Frames on their way; each is left out once or has a role."""

    iso: dict[str, int] = field(default_factory=dict)
    taken: dict[str, Taken] = field(default_factory=dict)
    findings: list[Said] = field(default_factory=list)

    def leave(self, one: FrameLook, reason: LeftOut, **values: float | str) -> None:
        self.taken[one.name] = replace(
            self._of(one, Role.LEFT_OUT), reason=reason, values=dict(values)
        )

    def take(self, one: FrameLook, role: Role) -> None:
        self.taken[one.name] = self._of(one, role)

    def _of(self, one: FrameLook, role: Role) -> Taken:
        green = one.green
        span = one.white[green.number] - one.black[green.number]
        level = float(np.nanmean(one.cells[..., green.number]) - one.black[green.number])
        return Taken(
            one.name,
            role,
            self.iso.get(one.name, one.metadata.iso),
            one.metadata.exposure_true_s,
            100 * level / float(span),
            path=one.path,
        )


def sort_frames(looks: Sequence[FrameLook], body: Body | None) -> Sorted:
    """Return which frames are what. body: the bench's; None takes the body with most frames."""
    work = _Sorting()
    own, name, serial = _of_one_body(_once(looks, work), body, work)
    own = [one for one in _of_one_size(own, work) if _has_iso(one, work)]
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
    """Return whether light fell on a frame: it is bright, or its colours differ as light's do."""
    levels = one.levels
    sigma = max(colour.sigma for colour in one.colours)
    full = float(np.nanmin(one.white - one.black))
    high, unlike = float(levels.max()), float(np.ptp(levels))
    if high > LIT_SHARE * full:
        return True
    if levels.size == 1:
        return high > GREY_SIGMA * sigma
    return high > LIT_SIGMA * sigma and unlike > UNLIKE_COLOURS * high


def _once(looks: Sequence[FrameLook], work: _Sorting) -> list[FrameLook]:
    seen: dict[str, str] = {}
    kept = []
    for one in looks:
        if one.content_hash and one.content_hash in seen:
            work.leave(one, LeftOut.SAME_FILE, other=seen[one.content_hash])
        else:
            seen[one.content_hash] = one.name
            kept.append(one)
    return kept


def _of_one_body(
    looks: Sequence[FrameLook], body: Body | None, work: _Sorting
) -> tuple[list[FrameLook], str | None, str | None]:
    """The frames of the bench's body, else of the body with most frames."""
    named = [one.metadata.body for one in looks if one.metadata.body]
    most = Counter(named).most_common(1)[0][0] if named else None
    kept = []
    for one in looks:
        own = one.metadata.body
        fits = own is None or (same_body(own, body) if body else own == most)
        if fits:
            kept.append(one)
        else:
            work.leave(
                one, LeftOut.OTHER_BODY, body=own or "", other=body.name if body else str(most)
            )
    serials = Counter(one.metadata.body_serial for one in kept if one.metadata.body_serial)
    serial = body.serial if body and body.serial in serials else None
    if serial is None and serials:
        serial = serials.most_common(1)[0][0]
    same = []
    for one in kept:
        if one.metadata.body_serial in (None, serial):
            same.append(one)
        else:
            values = {"body": f"serial {one.metadata.body_serial}", "other": f"serial {serial}"}
            work.leave(one, LeftOut.OTHER_BODY, **values)
    if same and any(one.metadata.body is None for one in same):
        count = sum(one.metadata.body is None for one in same)
        work.findings.append(Said(Finding.BODY_UNKNOWN, {"frames": count}))
    names = Counter(one.metadata.body for one in same if one.metadata.body)
    return same, (names.most_common(1)[0][0] if names else None), serial


def _of_one_size(looks: Sequence[FrameLook], work: _Sorting) -> list[FrameLook]:
    """Frames of the size, mosaic and white level that most have: a raw mode of its own differs."""
    if not looks:
        return []
    mode = Counter(_mode(one) for one in looks).most_common(1)[0][0]
    for one in looks:
        if _mode(one) != mode:
            size = f"{one.shape[1]} x {one.shape[0]} px, white {np.nanmax(one.white):g}"
            other = f"{mode[0][1]} x {mode[0][0]} px, white {mode[2]:g}"
            work.leave(one, LeftOut.OTHER_MODE, mode=size, other=other)
    return [one for one in looks if _mode(one) == mode]


def _mode(one: FrameLook) -> tuple[tuple[int, int], bytes, float]:
    return one.shape, one.pattern.tobytes(), float(np.nanmax(one.white))


def _has_iso(one: FrameLook, work: _Sorting) -> bool:
    """Metadata first; the name alone where they have none. A name that differs is told."""
    found = NAMED_ISO.search(one.name)
    named, recorded = (int(found[1]) if found else None), one.metadata.iso
    iso = recorded or named
    if iso is None:
        work.leave(one, LeftOut.ISO_UNKNOWN)
        return False
    work.iso[one.name] = iso
    if recorded is None:
        work.findings.append(Said(Finding.ISO_FROM_NAME, {"file": one.name, "iso": iso}))
    elif named is not None and named != recorded:
        values: dict[str, float | str] = {"file": one.name, "named": named, "iso": recorded}
        work.findings.append(Said(Finding.ISO_NAME_DIFFERS, values))
    return True


def _by_iso(looks: Sequence[FrameLook], work: _Sorting) -> dict[int, list[FrameLook]]:
    found: dict[int, list[FrameLook]] = {}
    for one in looks:
        found.setdefault(work.iso[one.name], []).append(one)
    return dict(sorted(found.items()))


def _in_the_dark(
    looks: Sequence[FrameLook], work: _Sorting
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
    frames: Sequence[FrameLook], reference: Floats | None, role: Role, work: _Sorting
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


def _even(frames: Sequence[FrameLook], work: _Sorting) -> list[FrameLook]:
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


def _pairs(frames: Sequence[FrameLook], work: _Sorting) -> list[tuple[FrameLook, FrameLook]]:
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
