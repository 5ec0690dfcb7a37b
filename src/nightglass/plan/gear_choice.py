"""Body and lens setting of a plan: the bench's best of a lens, or as typed."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

from nightglass.bench.falloff import falloff_on_record
from nightglass.bench.records import SettingResult
from nightglass.gear.bag import read_bench_file
from nightglass.gear.benchfile import BenchFile, TimeChoice
from nightglass.gear.body import Body
from nightglass.gear.lens import Lens, LensSetting, chosen_lenses
from nightglass.light.falloff import PupilFalloff
from nightglass.plan.camera import Shot
from nightglass.plan.codes import GearNoteCode
from nightglass.plan.tolerance import USUAL, Tolerance
from nightglass.plan.where import has_bench
from nightglass.plan.wishes import GearWish
from nightglass.verdict.on_record import ranking_on_record
from nightglass.verdict.records import Release
from nightglass.verdict.times import times_within

SENSOR_TAKEN, PIXELS_TAKEN = "36x24", "6000x4000"
"""Taken when neither bench nor option says more; printed then."""


@dataclass(frozen=True)
class GearNote:
    """How gear was found: a code with its numbers and names."""

    code: GearNoteCode
    values: Mapping[str, str | int] = field(default_factory=dict)


@dataclass(frozen=True)
class GearChoice:
    """What to plan with, and how it was found."""

    shot: Shot
    result: SettingResult | None
    """What the bench measured of the setting; None if it is not tested."""
    limit_percent: float | None
    """Largest blur that the person accepts on the bench, % of picture height."""
    notes: tuple[GearNote, ...]
    tolerance: Tolerance
    release: Release = "remote"
    falloff: PupilFalloff | None = None
    """Measured at this setting; None: not measured."""

    def true_s(self, longest_s: float, remote: bool | None = None) -> float:
        """Return the true time to set within the longest one: whole seconds or the dial's step.

        remote: as asked for; None is as the bench has it.
        """
        release = self.release if remote is None else "remote" if remote else "dial"
        return times_within(longest_s, self.shot.body.dial_end_s).true_s(release)


def gear_choice(wish: GearWish, folder: Path, portrait: bool = False) -> GearChoice:
    """Return the best setting of a bench's lens, or the typed one.

    portrait: how the camera is held where the wish does not say. Raises ValueError for a lens
    name that fits none or several, a setting without focal length or f-number, and a sensor that
    is none; BenchFileError and StoreError for a bench that can't be read.
    """
    held = portrait if wish.portrait is None else wish.portrait
    chosen = _typed(wish, folder, held) if wish.lens is None else _of_bench(wish, folder, held)
    if wish.trail_percent is None:
        return chosen
    return replace(chosen, tolerance=replace(chosen.tolerance, limit_percent=wish.trail_percent))


def typed_body(sensor: str, pixels: str) -> Body:
    """Return a body of "36x24" mm and "6000x4000" pixels; ValueError where they do not fit."""
    width_mm, height_mm = _pair(sensor, "sensor", SENSOR_TAKEN)
    width_px, height_px = _pair(pixels, "pixels", PIXELS_TAKEN)
    pitch_x, pitch_y = 1000 * width_mm / width_px, 1000 * height_mm / height_px
    if abs(pitch_x / pitch_y - 1) > 0.03:
        raise ValueError(
            f"a sensor of {sensor} mm with {pixels} pixels has pixels of {pitch_x:.2f} by "
            f"{pitch_y:.2f} um; they should be square: check the order of the sides"
        )
    return Body("typed", (pitch_x + pitch_y) / 2, round(width_px), round(height_px))


def _of_bench(wish: GearWish, folder: Path, portrait: bool) -> GearChoice:
    file = read_bench_file(folder).on_body(wish.body)
    (lens,) = chosen_lenses(file.lenses, [wish.lens or ""])
    notes: tuple[GearNote, ...] = ()
    result = None
    if wish.focal_mm is None or wish.f_number is None:
        result, note = _best_of(file, lens)
        notes = (note,)
    notes = (*notes, *_on_body(file))
    focal_mm, f_number = wish.focal_mm, wish.f_number
    if focal_mm is None:
        focal_mm = lens.focal_mm_min if result is None else result.setting.focal_mm
    if f_number is None:
        f_number = lens.f_number_min_wide if result is None else result.setting.f_number
    if not lens.focal_mm_min <= focal_mm <= lens.focal_mm_max:
        raise ValueError(
            f"{lens.name} has {lens.focal_mm_min:g} to {lens.focal_mm_max:g} mm, not {focal_mm:g}"
        )
    shot = Shot(file.body, focal_mm, f_number, lens.projection, portrait)
    limit_percent = None if file.limit is None else file.limit.percent
    setting = LensSetting(file.body.name, lens.name, focal_mm, f_number)
    return GearChoice(
        shot, result, limit_percent, notes, _tolerance(file.time), file.time.release,
        falloff_on_record(file, setting) if _has_store(file) else None,
    )  # fmt: skip


def _on_body(file: BenchFile) -> tuple[GearNote, ...]:
    """Which body a plan is for, where the bench has several."""
    if not file.other_bodies:
        return ()
    return (GearNote(GearNoteCode.ON_BODY, {"body": file.body.name}),)


def _tolerance(time: TimeChoice) -> Tolerance:
    """The trail that bench.toml allows, where its rule is one of trails."""
    allowed = time.trail_percent if time.rule == "trail" else None
    return Tolerance(allowed or USUAL.limit_percent, time.holds_at)


def _best_of(file: BenchFile, lens: Lens) -> tuple[SettingResult | None, GearNote]:
    """What the bench measured of the lens's best setting, or that nothing says better."""
    wide_open = GearNote(GearNoteCode.WIDE_OPEN, {"lens": lens.name})
    if not _has_store(file):
        return None, wide_open
    ranking, results = ranking_on_record(file)
    for standing in ranking.standings:
        setting = standing.worth.setting
        if setting.lens == lens.name:
            found = next((r for r in results if r.setting == setting), None)
            values: dict[str, str | int] = {"lens": lens.name, "place": standing.place}
            return found, GearNote(GearNoteCode.BEST_ON_BENCH, values)
    return None, wide_open


def _has_store(file: BenchFile) -> bool:
    """Whether anything was ever kept of a bench: asking must not make a store."""
    return (file.folder / "bench.sqlite").is_file() or file.bench.store is not None


def _typed(wish: GearWish, folder: Path, portrait: bool) -> GearChoice:
    if wish.focal_mm is None or wish.f_number is None:
        raise ValueError(
            "no setting to plan for; name a lens of the bench (--lens) or type --focal and --f"
        )
    notes: tuple[GearNote, ...] = ()
    if wish.sensor is None and wish.pixels is None and has_bench(folder):
        file = read_bench_file(folder).on_body(wish.body)
        body, notes = file.body, _on_body(file)
    else:
        if wish.body is not None:
            raise ValueError(
                f'--body "{wish.body}" names a body of a bench; leave out --sensor and --pixels, '
                "and name a bench folder"
            )
        sensor, pixels = wish.sensor or SENSOR_TAKEN, wish.pixels or PIXELS_TAKEN
        if wish.sensor is None or wish.pixels is None:
            notes = (GearNote(GearNoteCode.BODY_TAKEN, {"sensor": sensor, "pixels": pixels}),)
        body = typed_body(sensor, pixels)
    shot = Shot(body, wish.focal_mm, wish.f_number, portrait=portrait)
    return GearChoice(shot, None, None, notes, Tolerance())


def _pair(text: str, what: str, like: str) -> tuple[float, float]:
    match = re.fullmatch(r"\s*(\d+(?:\.\d*)?)\s*[x×X*]\s*(\d+(?:\.\d*)?)\s*", text)
    if not match or float(match[1]) <= 0 or float(match[2]) <= 0:
        raise ValueError(f'{what} "{text}" is not two sides; write {like}')
    return float(match[1]), float(match[2])
