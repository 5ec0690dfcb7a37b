"""What flats say, as plain data with codes."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from nightglass.bench.flats.records import FlatFrame, FlatReport, SettingFalloff


def flats_data(report: FlatReport) -> dict[str, Any]:
    """Return numbers, errors, units in the names, and codes; no sentences."""
    return {
        "settings": [_setting(one) for one in report.settings],
        "reference": report.reference,
        "relative_light": [asdict(one) for one in report.light],
        "frames": [_frame(one) for one in report.frames],
    }


def _setting(one: SettingFalloff) -> dict[str, Any]:
    return {
        **asdict(one.setting),
        "corner_flat_stops": one.corner_flat_stops,
        "corner_flat_stops_err": one.falloff.stops_err(1.0),
        "corner_pupil_stops": one.falloff.corner_stops,
        "falloff_terms_mag": list(one.falloff.terms_mag),
        "falloff_covariance_mag2": list(one.falloff.covariance),
        "frames": list(one.frames),
    }


def _frame(one: FlatFrame) -> dict[str, Any]:
    return {
        "name": one.name,
        "setting": None if one.setting is None else asdict(one.setting),
        "iso": one.iso,
        "exposure_s": one.exposure_s,
        "fault": one.fault,
        "detail": one.detail or None,
        "shading": None if one.shading is None else asdict(one.shading),
        "misfit_mag": one.misfit_mag,
    }
