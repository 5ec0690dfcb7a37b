"""What is wrong with each lens, as plain data with codes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from nightglass.bench.faults.copies import CopyFinding
from nightglass.bench.faults.report import LensFaults, SettingFaults
from nightglass.bench.faults.shape import ShapeFinding
from nightglass.bench.records import ZoneResult


def faults_data(lenses: Sequence[LensFaults]) -> dict[str, Any]:
    """Return numbers, errors, units in the names, and codes; no sentences."""
    return {"lenses": [_lens(one) for one in lenses]}


def copy_data(copy: CopyFinding) -> dict[str, Any]:
    """Return what the places at equal radius say of a copy."""
    row = asdict(copy)
    del row["setting"]
    return row


def _lens(one: LensFaults) -> dict[str, Any]:
    return {
        "lens": one.lens,
        "settings": [_setting(s) for s in one.settings],
        "stops": [asdict(found) for found in one.stops],
        "colours": [asdict(found) for found in one.colours],
    }


def _setting(one: SettingFaults) -> dict[str, Any]:
    pairs = zip(one.result.zones, one.shapes, strict=True)
    return {
        **asdict(one.result.setting),
        "copy": copy_data(one.copy),
        "cause": None if one.cause is None else asdict(one.cause),
        "places": [_place(zone, shape) for zone, shape in pairs],
    }


def _place(zone: ZoneResult, shape: ShapeFinding) -> dict[str, Any]:
    return {
        "place": zone.place,
        "field_radius": zone.field_radius,
        "length_px": zone.length_px.value,
        "length_px_err": zone.length_px.err,
        "length_at_most_px": zone.length_px.at_most,
        "shape": shape.shape,
        "probability": shape.probability,
        "probabilities": dict(shape.probabilities),
        "tail_degrees": shape.tail_degrees,
        "radial_angle_degrees": zone.radial_angle_degrees.value,
    }
