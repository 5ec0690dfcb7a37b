"""What is wrong with each lens, as plain data with codes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from nightglass.bench.faults.copies import CopyFinding
from nightglass.bench.faults.report import LensFaults


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
        "settings": [{**asdict(s.result.setting), "copy": copy_data(s.copy)} for s in one.settings],
    }
