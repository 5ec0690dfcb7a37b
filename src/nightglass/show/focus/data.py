"""What focus series say, as plain data with codes."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from nightglass.bench.focus.records import FocusReport, PlaceSeries, WavefrontFit


def focus_data(report: FocusReport) -> dict[str, Any]:
    """Return numbers, errors, units in the names, and codes; no sentences."""
    return {
        "places": [_place(place) for place in report.places],
        "fields": [asdict(one) for one in report.fields],
        "shifts": [asdict(one) for one in report.shifts],
        "not_separated": [asdict(one) for one in report.not_separated],
    }


def _place(place: PlaceSeries) -> dict[str, Any]:
    data = asdict(place)
    for curve in (data["radial"], data["tangential"]):
        if curve is not None:
            del curve["covariance"]
    if data["best"] is not None:
        del data["best"]["curves"]
    return data


def wavefront_data(place: PlaceSeries, found: WavefrontFit) -> dict[str, Any]:
    """Return the wavefront of a place as plain data."""
    return {"series": place.series, **asdict(place.setting), "place": place.place, **asdict(found)}
