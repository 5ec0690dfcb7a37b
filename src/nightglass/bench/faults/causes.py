"""What makes a copy uneven: a tilted group, a shifted one, or what the frames can't tell.

Sizes alone can't tell. A tilt moves best focus straight across the frame: focus series at places
around the centre show it (bench.focus.tilt). A shifted group gives all places the same coma, the
centre too, where a sound lens has none: its star is then one-sided.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from nightglass.bench.faults.copies import CopyFinding, CopyVerdict
from nightglass.bench.faults.shape import Shape, ShapeFinding
from nightglass.bench.focus.records import FieldFocus, Tilt
from nightglass.bench.records import SettingResult
from nightglass.gear.lens import LensSetting

CENTRE_RADIUS = 0.15


class CopyCause(StrEnum):
    """What is behind an uneven copy."""

    TILT = "tilt"
    DECENTRED = "decentred"
    BOTH = "both"
    CANT_TELL = "cant_tell"


@dataclass(frozen=True)
class CauseFinding:
    """What tells a tilted group from a shifted one."""

    cause: CopyCause
    tilt: Tilt | None = None
    """Of the focus series of this lens; None without series at places around the centre."""
    coma_probability: float | None = None
    """Of the class one-sided for the star at the centre; None where its class can't be told."""


def cause_of(
    result: SettingResult,
    copy: CopyFinding,
    shapes: Sequence[ShapeFinding],
    fields: Sequence[FieldFocus],
) -> CauseFinding | None:
    """Return what is behind an uneven copy; None for one that is not shown to be uneven.

    shapes: of the result's zones; fields: of all focus series on record.
    """
    if copy.verdict not in (CopyVerdict.UNEVEN, CopyVerdict.SLIGHT):
        return None
    tilt = _tilt(result.setting, fields)
    coma = _coma(result, shapes)
    tilted = tilt is not None and tilt.found
    shifted = coma is not None and coma[0] is Shape.ONE_SIDED
    cause = {
        (True, True): CopyCause.BOTH,
        (True, False): CopyCause.TILT,
        (False, True): CopyCause.DECENTRED,
        (False, False): CopyCause.CANT_TELL,
    }[tilted, shifted]
    return CauseFinding(cause, tilt, None if coma is None else coma[1])


def _tilt(setting: LensSetting, fields: Sequence[FieldFocus]) -> Tilt | None:
    """Of the series at this setting, else at the nearest f-number of its focal length."""
    known = [
        (abs(one.setting.f_number - setting.f_number), one.series, one.tilt)
        for one in fields
        if one.tilt is not None
        and (one.setting.lens, one.setting.focal_mm) == (setting.lens, setting.focal_mm)
    ]
    return min(known, key=lambda row: row[:2])[2] if known else None


def _coma(result: SettingResult, shapes: Sequence[ShapeFinding]) -> tuple[Shape, float] | None:
    for zone, shape in zip(result.zones, shapes, strict=True):
        if zone.field_radius < CENTRE_RADIUS and shape.probabilities:
            return shape.shape, shape.probabilities.get(Shape.ONE_SIDED.value, 0.0)
    return None
