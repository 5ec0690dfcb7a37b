"""What is wrong with the lenses of a bench: lens by lens, setting by setting."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from nightglass.bench.faults.causes import CauseFinding, CopyCause, cause_of
from nightglass.bench.faults.colours import ColourFinding, colours_of
from nightglass.bench.faults.copies import CopyFinding, CopyReason, CopyVerdict, copies_of
from nightglass.bench.faults.series import series_of
from nightglass.bench.faults.shape import Shape, ShapeFinding, shape_of
from nightglass.bench.faults.stops import Cause, StopsFinding
from nightglass.bench.focus.records import FieldFocus
from nightglass.bench.records import SettingResult, ZoneResult
from nightglass.gear.body import Body

ALL_CODES = (CopyVerdict, CopyReason, CopyCause, Shape, Cause)
"""Every code of a report."""


@dataclass(frozen=True)
class SettingFaults:
    """One setting of a lens."""

    result: SettingResult
    copy: CopyFinding
    shapes: tuple[ShapeFinding, ...]
    """One for each place, in the order of the result's zones."""
    cause: CauseFinding | None = None
    """Of an uneven copy."""

    @property
    def worst(self) -> tuple[ZoneResult, ShapeFinding] | None:
        """The place with the longest spot, the upper bound counting at limit, and its shape."""
        known = [
            (zone, shape)
            for zone, shape in zip(self.result.zones, self.shapes, strict=True)
            if zone.length_px.bound is not None
        ]
        return max(known, key=lambda pair: pair[0].length_px.bound or 0.0, default=None)


@dataclass(frozen=True)
class LensFaults:
    """One lens, its settings by focal length and f-number."""

    lens: str
    settings: tuple[SettingFaults, ...]
    stops: tuple[StopsFinding, ...] = ()
    """Focal length by focal length, place by place."""
    colours: tuple[ColourFinding, ...] = ()


def find_faults(
    results: Sequence[SettingResult], body: Body, fields: Sequence[FieldFocus] = ()
) -> tuple[LensFaults, ...]:
    """Return what the results on record say of each lens, by name.

    fields: what focus series say over the frame; they tell tilt from decentring.
    """
    copies = copies_of(results, body)
    by_lens: dict[str, list[SettingResult]] = defaultdict(list)
    for result in sorted(results, key=lambda r: r.setting):
        by_lens[result.setting.lens].append(result)
    return tuple(
        _lens(lens, tuple(_setting(r, copies[r.setting], fields) for r in several), body)
        for lens, several in sorted(by_lens.items())
    )


def _lens(lens: str, settings: tuple[SettingFaults, ...], body: Body) -> LensFaults:
    seen = [(one.result, one.shapes) for one in settings]
    return LensFaults(
        lens, settings, series_of(seen, body.pitch_um), colours_of([one.result for one in settings])
    )


def _setting(
    result: SettingResult, copy: CopyFinding, fields: Sequence[FieldFocus]
) -> SettingFaults:
    shapes = tuple(shape_of(zone) for zone in result.zones)
    return SettingFaults(result, copy, shapes, cause_of(result, copy, shapes, fields))
