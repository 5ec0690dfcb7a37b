"""From focus series on record to the wavefronts behind them, kept: a fit takes seconds."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa

from nightglass.bench.focus.measure import focus_report, marks_toward, wavefront_of
from nightglass.bench.focus.records import FocusReport, PlaceSeries, WavefrontFit
from nightglass.bench.focus.wavefront import directed
from nightglass.bench.store.packing import pack, unpack
from nightglass.bench.store.store import Store, open_store
from nightglass.bench.study.study import Study, kept_results, study_table
from nightglass.gear.benchfile import BenchFile
from nightglass.gear.lens import LensSetting, MarksToward


@dataclass(frozen=True)
class SeriesWavefront:
    """The wavefront behind the focus series of one setting at one place."""

    series: str
    setting: LensSetting
    place: str
    fit: WavefrontFit
    """With signs as if higher marks ran toward infinity."""


def wavefronts_on_record(
    report: FocusReport, bench: BenchFile, towards: MarksToward | None
) -> tuple[tuple[PlaceSeries, WavefrontFit], ...]:
    """Return each series of a bench's report with its wavefront, signs as its marks run.

    towards: the end to which the marks of all series run; None takes what bench.toml says of each
    lens. Fits are kept in the store, where it can be written, until a frame or bench.toml changes.
    Raises StoreError for a store that can't be read.
    """
    store = open_store(bench)
    try:
        kept = kept_results(FOCUS, store, bench)
    finally:
        store.close()
    fits = {(one.series, one.setting, one.place): one.fit for one in kept}
    return tuple(
        (place, directed(fits[place.series, place.setting, place.place], way))
        for place in report.places
        for way in (marks_toward(place, bench, towards),)
    )


def _worked_out(store: Store, bench: BenchFile) -> tuple[SeriesWavefront, ...]:
    report = focus_report(store, bench)
    return tuple(
        SeriesWavefront(p.series, p.setting, p.place, wavefront_of(p, report.images, bench))
        for p in report.places
    )


def _row(one: SeriesWavefront) -> dict[str, Any]:
    setting = one.setting
    return {
        "series": one.series,
        "lens": setting.lens,
        "focal_mm": setting.focal_mm,
        "f_number": setting.f_number,
        "place": one.place,
        "content": pack(one),
    }


def _from_row(row: Mapping[str, Any]) -> SeriesWavefront:
    found: SeriesWavefront = unpack(row["content"])
    return found


FOCUS = Study(
    name="focus",
    work_out=_worked_out,
    table=study_table(
        "focus",
        sa.Column("series", sa.Text, nullable=False),
        sa.Column("lens", sa.Text, nullable=False),
        sa.Column("focal_mm", sa.Double, nullable=False),
        sa.Column("f_number", sa.Double, nullable=False),
        sa.Column("place", sa.Text, nullable=False),
        sa.Column("content", sa.LargeBinary, nullable=False),
    ),
    to_row=_row,
    from_row=_from_row,
    when_asked=True,
)
