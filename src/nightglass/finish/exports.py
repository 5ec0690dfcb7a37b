"""What two exports of the same picture differ in."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from nightglass.finish.codes import DifferenceCode, NoteCode, ProfileSource
from nightglass.finish.records import Audit, Difference, ExportPair

SCALE_SHARE, TURN_DEGREES = 0.002, 0.1
STOPS = 0.05
CONTRAST_SHARE = 0.05
STEP_SHARE = 0.05
GRAIN_SHARE = 0.15
Value = float | int | str | None


def export_pairs(audits: Sequence[Audit]) -> tuple[ExportPair, ...]:
    """Return every later picture against the first."""
    return tuple(
        ExportPair(audits[0].facts.file, other.facts.file, tuple(_differences(audits[0], other)))
        for other in audits[1:]
    )


def _differences(one: Audit, other: Audit) -> Iterator[Difference]:
    if one.facts.content_hash == other.facts.content_hash:
        yield Difference(DifferenceCode.SAME_FILE, {})
        return
    found = [*_of_files(one, other), *_of_pictures(one, other)]
    if one.pixels_hash == other.pixels_hash:
        yield Difference(DifferenceCode.SAME_PIXELS, {})
    yield from found
    if not found and one.pixels_hash != other.pixels_hash:
        yield Difference(DifferenceCode.NOTHING_SEEN, {})


def _of_files(one: Audit, other: Audit) -> Iterator[Difference]:
    """What the files say, each where they differ."""
    a, b = one.facts, other.facts
    sizes = (f"{a.width_px} x {a.height_px}", f"{b.width_px} x {b.height_px}")
    rows: tuple[tuple[DifferenceCode, Value, Value], ...] = (
        (DifferenceCode.KIND, a.kind, b.kind),
        (DifferenceCode.SIZE, *sizes),
        (DifferenceCode.BITS, a.bits, b.bits),
        (DifferenceCode.SUBSAMPLING, a.subsampling, b.subsampling),
    )
    for code, first, second in rows:
        if first != second and None not in (first, second):
            yield Difference(code, {"one": first, "other": second})
    if a.profile_from is not b.profile_from:
        with_one = a.profile_from is ProfileSource.EMBEDDED
        values = {"file": b.file if with_one else a.file, "profile": (a if with_one else b).profile}
        yield Difference(DifferenceCode.PROFILE_MISSING, values)
    elif a.profile != b.profile:
        yield Difference(DifferenceCode.PROFILE, {"one": a.profile, "other": b.profile})
    one_step, other_step = a.quantisation, b.quantisation
    if one_step and other_step and abs(one_step / other_step - 1) > STEP_SHARE:
        yield Difference(DifferenceCode.QUANTISATION, {"one": one_step, "other": other_step})


def _of_pictures(one: Audit, other: Audit) -> Iterator[Difference]:
    """What was measured; nothing where one of both was not compared."""
    if one.placement is None or other.placement is None or not one.tones or not other.tones:
        return
    scales = [a.placement.similarity.scale for a in (one, other) if a.placement is not None]
    if abs(scales[0] / scales[1] - 1) > SCALE_SHARE:
        values = {"one": 1 / scales[0], "other": 1 / scales[1]}
        yield Difference(DifferenceCode.SCALE, values)
    areas = [_area(audit) for audit in (one, other)]
    if abs(areas[0] / areas[1] - 1) > 0.01:
        yield Difference(DifferenceCode.CROP, {"ratio": areas[1] / areas[0]})
    turn = other.placement.similarity.angle_degrees - one.placement.similarity.angle_degrees
    turn = (turn + 180) % 360 - 180
    mirrored = one.placement.similarity.mirrored != other.placement.similarity.mirrored
    if abs(turn) > TURN_DEGREES or mirrored:
        yield Difference(DifferenceCode.TURN, {"degrees": turn, "mirrored": int(mirrored)})
    yield from _of_tones(one, other)


def _area(audit: Audit) -> float:
    """Area of the picture in square pixels of the reference."""
    scale = 1.0 if audit.placement is None else audit.placement.similarity.scale
    return audit.facts.width_px * audit.facts.height_px * scale**2


def _of_tones(one: Audit, other: Audit) -> Iterator[Difference]:
    if not one.tones or not other.tones:
        return
    skies = [[max(tone.sky_in_picture, 1e-6) for tone in a.tones or ()] for a in (one, other)]
    changes = [math.log2(b / a) for a, b in zip(*skies, strict=True)]
    if abs(changes[1]) > STOPS:
        yield Difference(DifferenceCode.BRIGHTNESS, {"stops": changes[1]})
    slopes = [a.tones[1].slope / skies[k][1] for k, a in enumerate((one, other)) if a.tones]
    if abs(slopes[1] / slopes[0] - 1) > CONTRAST_SHARE:
        yield Difference(DifferenceCode.CONTRAST, {"ratio": slopes[1] / slopes[0]})
    red, blue = changes[0] - changes[1], changes[2] - changes[1]
    if max(abs(red), abs(blue)) > STOPS and NoteCode.GREY not in one.notes + other.notes:
        yield Difference(DifferenceCode.COLOUR, {"red_stops": red, "blue_stops": blue})
    pairs = [(a, b) for a in one.noise for b in other.noise if a.scale_px == b.scale_px == 1]
    for a, b in pairs:
        if a.light_left and b.light_left and abs(b.light_left / a.light_left - 1) > GRAIN_SHARE:
            values = {"one": a.light_left, "other": b.light_left}
            yield Difference(DifferenceCode.GRAIN, values)
