"""All files of flats/ of a bench: each frame's falloff, then each setting's."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from nightglass.bench.assign import NotUsed
from nightglass.bench.beside import FileBeside, belongs_beside
from nightglass.bench.flats.records import FlatFault, FlatFrame, FlatReport, SettingFalloff
from nightglass.bench.flats.shading import fit_shading
from nightglass.bench.flats.transmission import relative_light
from nightglass.frame.errors import FrameError
from nightglass.frame.open import open_frame
from nightglass.gear.benchfile import BenchFile
from nightglass.gear.lens import LensSetting
from nightglass.light.falloff import FalloffSource, PupilFalloff, combined_falloff
from nightglass.optics.projection import off_axis_degrees, relative_solid_angle
from nightglass.sensor.look import FrameLook, NoMosaicError, TooSmallError, look_at_frame

CLIPPED_SHARE = 0.95
"""Of clipping: beyond it counts of many sensors are no longer straight (common practice)."""
LEAST_COUNTS = 50.0
"""In the darkest cell: half a count of black is then 1 % of light."""
MOST_MISFIT_MAG = 0.1
MOST_BENT_MAG = 0.3
"""More is a scene, a cap half on or a lamp in the picture, not an even light: our choice, wide
enough for the hard edge of a shaded corner."""


def measure_flats(
    files: Sequence[FileBeside],
    bench: BenchFile,
    reference: str | None = None,
    told: Callable[[str, int, int], None] = lambda what, done, total: None,
) -> FlatReport:
    """Return what the flats of a bench say.

    told: called with the file, files done and their number. Raises ValueError for a reference
    lens that has no flats.
    """
    frames: list[FlatFrame] = []
    seen: dict[str, str] = {}
    for done, file in enumerate(files):
        told(file.name, done, len(files))
        frame = measure_flat(file, bench)
        if frame.shading is not None and frame.content_hash in seen:
            again = seen[frame.content_hash]
            frame = replace(frame, shading=None, fault=FlatFault.SAME_FILE, detail=again)
        seen.setdefault(frame.content_hash, file.name)
        frames.append(frame)
    chosen, light = relative_light(frames, reference)
    return FlatReport(tuple(frames), _settings(frames, bench), light, chosen)


def measure_flat(file: FileBeside, bench: BenchFile) -> FlatFrame:
    """Return what one flat shows, or why it was left out."""
    name = file.name
    if file.cause is not None:
        return FlatFrame(name, fault=FlatFault.UNREADABLE, detail=file.cause)
    try:
        frame = open_frame(file.path)
        belongs = belongs_beside(name, frame, bench)
        look = look_at_frame(frame, file.path, name)
    except NoMosaicError:
        return FlatFrame(name, fault=FlatFault.NO_MOSAIC)
    except (FrameError, TooSmallError) as error:
        return FlatFrame(name, fault=FlatFault.UNREADABLE, detail=str(error))
    if isinstance(belongs, NotUsed):
        return FlatFrame(
            name, look.content_hash, fault=FlatFault.NOT_OF_BENCH, detail=belongs.reason
        )
    known = FlatFrame(name, look.content_hash, belongs.setting, belongs.iso, belongs.exposure_s)
    return _shown(look, known, belongs.setting, bench)


def report_falloffs(report: FlatReport) -> tuple[tuple[LensSetting, PupilFalloff], ...]:
    """Return setting and falloff of each setting that flats told."""
    return tuple((one.setting, one.falloff) for one in report.settings)


def report_light(report: FlatReport) -> dict[str, tuple[float, float]]:
    """Return how much light each lens passes against the reference, and its error, by name."""
    if report.reference is None:
        return {}
    told = {one.lens: (one.times, one.err) for one in report.light}
    return {report.reference: (1.0, 0.0), **told}


def _falloff_of(frame: FlatFrame) -> PupilFalloff | None:
    """Return the falloff that one flat shows; None for one that was left out."""
    if frame.shading is None:
        return None
    return PupilFalloff(frame.shading.terms_mag, frame.shading.covariance, FalloffSource.FLAT)


def _shown(look: FrameLook, known: FlatFrame, setting: LensSetting, bench: BenchFile) -> FlatFrame:
    green = look.green
    if green.upper > CLIPPED_SHARE * look.clipping[green.number]:
        return replace(known, fault=FlatFault.CLIPPED)
    counts = look.cells[..., green.number] - look.black[green.number]
    if not np.min(counts) >= LEAST_COUNTS:
        # A cap half on is dark on one side only: say that, not "too dark".
        half = green.upper - look.black[green.number] >= LEAST_COUNTS * 40
        return replace(known, fault=FlatFault.NOT_EVEN if half else FlatFault.TOO_DARK)
    lens = bench.lens_of(setting)
    body = bench.on_body(setting.body).body
    shading = fit_shading(counts, body, lens, setting.focal_mm)
    if shading.misfit_mag > MOST_MISFIT_MAG or shading.bent_mag > MOST_BENT_MAG:
        return replace(known, fault=FlatFault.NOT_EVEN, misfit_mag=shading.misfit_mag)
    return replace(known, shading=shading, misfit_mag=shading.misfit_mag)


def _settings(frames: Sequence[FlatFrame], bench: BenchFile) -> tuple[SettingFalloff, ...]:
    told: dict[LensSetting, list[tuple[str, PupilFalloff]]] = {}
    for frame in frames:
        falloff = _falloff_of(frame)
        if falloff is not None and frame.setting is not None:
            told.setdefault(frame.setting, []).append((frame.name, falloff))
    return tuple(_one(setting, told[setting], bench) for setting in sorted(told))


def _one(
    setting: LensSetting, told: Sequence[tuple[str, PupilFalloff]], bench: BenchFile
) -> SettingFalloff:
    falloff = combined_falloff([one for _, one in told])
    lens = bench.lens_of(setting)
    body = bench.on_body(setting.body).body
    half_mm = math.hypot(body.width_mm, body.height_mm) / 2
    theta = off_axis_degrees(half_mm, setting.focal_mm, lens.projection)
    solid = float(relative_solid_angle(theta, lens.projection))
    return SettingFalloff(
        setting,
        falloff,
        tuple(name for name, _ in told),
        falloff.corner_stops - (math.log2(solid) if solid > 0 else math.nan),
    )
