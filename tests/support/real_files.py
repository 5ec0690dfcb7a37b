"""Real frames that lie beside the project: read in place, never copied into it."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


def real_file(folder: str, name: str) -> Path:
    """Return a real file of data/FOLDER beside the project, or skip the test and say why.

    Looked for in the folder that NIGHTGLASS_SHARED names, else in one called shared next to the
    project's own.
    """
    named = os.environ.get("NIGHTGLASS_SHARED")
    shared = Path(named) if named else ROOT.parent / "shared"
    path = shared / "data" / folder / name
    if not path.is_file():
        pytest.skip(
            f"real file {folder}/{name} is absent: set NIGHTGLASS_SHARED to the folder above data/"
        )
    return path
