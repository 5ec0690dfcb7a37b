"""Real files that lie beside the project: read in place, never copied in; skipped without them."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

FOLDER = "NIGHTGLASS_SHARED"


def real_file(kind: str, name: str) -> Path:
    """Return data/KIND/NAME below the folder beside the project; skip the test without it."""
    named = [Path(os.environ[FOLDER])] if FOLDER in os.environ else []
    beside = [parent / "shared" for parent in Path(__file__).resolve().parents]
    for folder in (*named, *beside):
        if (folder / "data" / kind / name).is_file():
            return folder / "data" / kind / name
    pytest.skip(f"{kind}/{name} is absent: set {FOLDER} to the folder above data/")
