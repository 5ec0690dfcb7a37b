"""Body and lens setting of the planner's commands: from the bench, or as typed."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from nightglass.gear.body import Body

if TYPE_CHECKING:
    from nightglass.bench.records import SettingResult
    from nightglass.gear.benchfile import BenchFile, HoldsAt, LimitChoice
    from nightglass.gear.lens import Lens
    from nightglass.plan.camera import Shot
    from nightglass.plan.tolerance import Tolerance

LensOption = Annotated[
    str | None, typer.Option("--lens", help="Lens of the bench: its name or a part of it.")
]
FocalOption = Annotated[float | None, typer.Option("--focal", help="Focal length (mm).")]
ApertureOption = Annotated[float | None, typer.Option("--f", help="Marked f-number.")]
SensorOption = Annotated[
    str | None, typer.Option("--sensor", help='Without a bench: "36x24" mm, long side first.')
]
PixelsOption = Annotated[
    str | None, typer.Option("--pixels", help='Without a bench: "6000x4000", long side first.')
]
PortraitOption = Annotated[
    bool | None, typer.Option("--portrait/--landscape", help="How the camera is held.")
]
LimitOption = Annotated[
    float | None,
    typer.Option("--trail", help="Longest trail, % of picture height, anywhere in the sky."),
]

RemoteOption = Annotated[bool, typer.Option("--remote/--dial", help="How the shutter is released.")]

SENSOR_TAKEN, PIXELS_TAKEN = "36x24", "6000x4000"
"""Taken when neither bench nor option says more; printed then."""


@dataclass(frozen=True)
class GearChoice:
    """What to plan with, and how it was found."""

    shot: Shot
    lens: Lens | None
    limit_percent: float | None
    """Largest blur that counts as good on the bench, % of picture height."""
    result: SettingResult | None
    notes: tuple[str, ...]
    holds_at: HoldsAt = "centre"
    """Where in the frame the longest trail holds, as the bench says."""

    def tolerance(self, trail_percent: float | None) -> Tolerance:
        """Return the tolerance typed, or the usual one, where the bench lets it hold."""
        from nightglass.plan.tolerance import Tolerance

        if trail_percent is None:
            return Tolerance(holds_at=self.holds_at)
        return Tolerance(trail_percent, self.holds_at)


def gear_choice(
    bench: Path,
    lens: str | None,
    focal: float | None,
    aperture: float | None,
    sensor: str | None,
    pixels: str | None,
    portrait: bool | None,
) -> GearChoice:
    """Return the setting of a bench's lens or the typed one.

    lens: its name, or a part that no other lens has. Raises ValueError for a name that fits none or
    several, a setting without focal length or
    f-number, and a sensor that is none.
    """
    if lens is None:
        return _typed(bench, focal, aperture, sensor, pixels, bool(portrait))
    from nightglass.gear.bag import read_bench_file
    from nightglass.gear.lens import chosen_lenses
    from nightglass.plan.camera import Shot

    file = read_bench_file(bench)
    (known,) = chosen_lenses(file.lenses, [lens])
    notes: list[str] = []
    result, limit = None, _limit_percent(file.limit)
    if aperture is None or focal is None:
        result, said, limit = _best_of(file, known)
        notes.append(said)
        if result is not None:
            focal = focal if focal is not None else result.setting.focal_mm
            aperture = aperture if aperture is not None else result.setting.f_number
    focal = focal if focal is not None else known.focal_mm_min
    aperture = aperture if aperture is not None else known.f_number_min_wide
    if not known.focal_mm_min <= focal <= known.focal_mm_max:
        raise ValueError(
            f"{known.name} has {known.focal_mm_min:g} to {known.focal_mm_max:g} mm, not {focal:g}"
        )
    shot = Shot(file.body, focal, aperture, known.projection, bool(portrait))
    return GearChoice(shot, known, limit, result, tuple(notes), file.time.holds_at)


def _typed(
    bench: Path,
    focal: float | None,
    aperture: float | None,
    sensor: str | None,
    pixels: str | None,
    portrait: bool,
) -> GearChoice:
    from nightglass.plan.camera import Shot

    if focal is None or aperture is None:
        raise ValueError(
            "no setting to plan for; name a lens of the bench (--lens) or type --focal and --f"
        )
    notes: list[str] = []
    if sensor is None and pixels is None and (bench / "bench.toml").is_file():
        from nightglass.gear.bag import read_bench_file

        body = read_bench_file(bench).body
    else:
        if sensor is None or pixels is None:
            notes.append(
                f"Taken: a sensor of {sensor or SENSOR_TAKEN} mm, {pixels or PIXELS_TAKEN} pixels "
                "(type --sensor and --pixels)."
            )
        body = typed_body(sensor or SENSOR_TAKEN, pixels or PIXELS_TAKEN)
    return GearChoice(
        Shot(body, focal, aperture, portrait=portrait), None, None, None, tuple(notes)
    )


def typed_body(sensor: str, pixels: str) -> Body:
    """Return a body of "36x24" mm and "6000x4000" pixels; ValueError where they do not fit."""
    width_mm, height_mm = _pair(sensor, "sensor", "36x24")
    width_px, height_px = _pair(pixels, "pixels", "6000x4000")
    pitch_x, pitch_y = 1000 * width_mm / width_px, 1000 * height_mm / height_px
    if abs(pitch_x / pitch_y - 1) > 0.03:
        raise ValueError(
            f"a sensor of {sensor} mm with {pixels} pixels has pixels of {pitch_x:.2f} by "
            f"{pitch_y:.2f} um; they should be square: check the order of the sides"
        )
    return Body("typed", (pitch_x + pitch_y) / 2, round(width_px), round(height_px))


def wide_shot(shot: Shot, focal: float | None, aperture: float | None) -> Shot | None:
    """Return the wide frame to hold a panorama against; None when no focal length was typed."""
    if focal is None:
        return None
    return replace(shot, focal_mm=focal, f_number=aperture or shot.f_number, portrait=False)


def practical_s(longest_s: float, shot: Shot, remote: bool) -> float:
    """Return the true time to set: whole seconds with a remote, else the dial's longest step."""
    from nightglass.verdict.times import times_within

    times = times_within(longest_s, shot.body.dial_end_s)
    return times.true_s("remote" if remote else "dial")


def _limit_percent(limit: LimitChoice | None) -> float | None:
    return None if limit is None else limit.percent


def _pair(text: str, what: str, like: str) -> tuple[float, float]:
    match = re.fullmatch(r"\s*(\d+(?:\.\d*)?)\s*[x×X*]\s*(\d+(?:\.\d*)?)\s*", text)
    if not match or float(match[1]) <= 0 or float(match[2]) <= 0:
        raise ValueError(f'{what} "{text}" is not two sides; write {like}')
    return float(match[1]), float(match[2])


def _best_of(file: BenchFile, lens: Lens) -> tuple[SettingResult | None, str, float | None]:
    """The lens's best setting on the bench, or why there is none; and the limit of the ranking."""
    widest = f"{lens.name} is taken wide open: nothing measured says better (not tested)."
    if not (file.folder / "bench.sqlite").is_file() and file.bench.store is None:
        return None, widest, _limit_percent(file.limit)
    from nightglass.bench.study.repeats import results_on_record
    from nightglass.verdict.judge import judge

    results = results_on_record(file)
    ranking = judge(results, file)
    for standing in ranking.standings:
        setting = standing.worth.setting
        if setting.lens == lens.name:
            found = next((r for r in results if r.setting == setting), None)
            said = f"Best setting of {lens.name} on the bench (place {standing.place})."
            return found, said, _limit_percent(ranking.limit)
    return None, widest, _limit_percent(ranking.limit)


def usable_of(chosen: GearChoice) -> float | None:
    """Return the usable share of the chosen setting from its bench result; None if not tested."""
    from nightglass.plan.panorama.usable import USABLE_LIMIT_PERCENT, usable_share

    if chosen.result is None:
        return None
    height_px = chosen.shot.body.picture_height_px
    zones = []
    for zone in chosen.result.zones:
        length = (
            zone.length_px.value if zone.length_px.value is not None else zone.length_px.at_most
        )
        if length is not None:
            zones.append((zone.field_radius, 100 * length / height_px))
    return usable_share(zones, chosen.limit_percent or USABLE_LIMIT_PERCENT)
