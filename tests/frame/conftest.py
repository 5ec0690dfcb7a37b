"""Frames with known truth: small DNG files, and files with one tag changed by hand."""

from __future__ import annotations

import struct
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import tifffile
from numpy.typing import NDArray

from nightglass.scene.dng import write_dng

RGGB = np.array([[0, 1], [1, 2]], dtype=np.uint8)
SIX = np.array(
    [
        [1, 1, 0, 1, 1, 2],
        [1, 1, 2, 1, 1, 0],
        [2, 0, 1, 0, 2, 1],
        [1, 1, 2, 1, 1, 0],
        [1, 1, 0, 1, 1, 2],
        [0, 2, 1, 2, 0, 1],
    ],
    dtype=np.uint8,
)

MakeDng = Callable[..., Path]
PatchTag = Callable[[Path, int, int], Path]


@pytest.fixture
def tiles() -> dict[str, NDArray[np.uint8]]:
    """Colour tiles of both mosaics."""
    return {"bayer": RGGB, "6x6": SIX}


@pytest.fixture
def sky() -> NDArray[np.uint16]:
    """A non-square frame of noise about 1000 counts."""
    return np.random.default_rng(11).normal(1000, 20, (300, 420)).round().astype(np.uint16)


@pytest.fixture
def make_dng(tmp_path: Path) -> MakeDng:
    """Write a DNG into the test's folder and return its path."""

    def make(samples: NDArray[np.uint16], name: str = "frame.dng", **options: Any) -> Path:
        path = tmp_path / name
        path.parent.mkdir(parents=True, exist_ok=True)
        settings: dict[str, Any] = {"white_level": 16383, "compression": "none", "verify": False}
        if samples.ndim == 2:
            settings["pattern"] = RGGB
        write_dng(path, samples, **{**settings, **options})
        return path

    return make


@pytest.fixture
def patch_tag() -> PatchTag:
    """Overwrite the inline value of one tag of the first directory."""

    def patch(path: Path, code: int, value: int) -> Path:
        with tifffile.TiffFile(path) as tiff:
            tag = tiff.pages.first.tags[code]
            place, kind = tag.valueoffset, ("<H" if int(tag.dtype) == 3 else "<I")
        with path.open("r+b") as file:
            file.seek(place)
            file.write(struct.pack(kind, value))
        return path

    return patch
