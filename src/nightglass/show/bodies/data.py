"""One lens on several bodies, as plain data with codes."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from nightglass.bench.across.records import BodiesReport, PlaceOnTwoBodies, SizeOnBody


def bodies_data(report: BodiesReport) -> dict[str, Any]:
    """Return numbers, errors, units in the names, and codes; no sentences."""
    return {
        "bodies": list(report.bodies),
        "tolerance_mm": report.tolerance_mm,
        "refocused": report.refocused,
        "pairs": [_pair(pair) for pair in report.pairs],
        "unpaired": [asdict(one) for one in report.unpaired],
        "on_one_only": [{"lens": lens, "body": body} for lens, body in report.on_one_only],
    }


def _pair(pair: PlaceOnTwoBodies) -> dict[str, Any]:
    left = pair.left
    return {
        **asdict(pair),
        "one": _size(pair.one),
        "other": _size(pair.other),
        "apart_percent": None if left is None else left.apart_percent,
    }


def _size(size: SizeOnBody) -> dict[str, Any]:
    return {**asdict(size), "height_mm": size.height_mm}
