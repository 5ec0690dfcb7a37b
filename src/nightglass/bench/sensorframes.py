"""Frames of the sensor beside the bench's own: cap on, and evenly lit."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path

from nightglass.bench.errors import BenchError
from nightglass.bench.files import find_files

SENSOR_FOLDER = "sensor"
WHAT_TO_COPY = (
    "raw frames with the cap on and of an evenly lit surface there (docs/sensor.md has the list)"
)


def sensor_files(folder: Path, named: Sequence[Path]) -> tuple[tuple[Path, str], ...]:
    """Return path and name of the frames to measure, in the order of their names.

    named: files and folders; without any, the folder sensor/ of a bench folder, else the folder
    itself. Raises BenchError where there is nothing to read.
    """
    if named:
        return _unique([found for path in named for found in _below(path, path.parent)])
    place = folder / SENSOR_FOLDER if (folder / "bench.toml").is_file() else folder
    if not place.is_dir():
        raise BenchError(f"{place}: no such folder; make it and copy {WHAT_TO_COPY}")
    found = _below(place, place)
    if not found:
        raise BenchError(f"{place}: no files in it; copy {WHAT_TO_COPY}")
    return tuple(found)


def _below(path: Path, base: Path) -> list[tuple[Path, str]]:
    if not path.exists():
        raise BenchError(f"{path}: no such file or folder; check the name")
    if not path.is_dir():
        return [(path, _name(path, base))]
    found = find_files(path)
    if found.unreadable and not found.files:
        name, cause = found.unreadable[0]
        raise BenchError(f"{path / name}: can't be read ({cause}); check its permissions")
    return [(path / file.path, _name(path / file.path, base)) for file in found.files]


def _name(path: Path, base: Path) -> str:
    return Path(os.path.relpath(path, base)).as_posix()


def _unique(files: Sequence[tuple[Path, str]]) -> tuple[tuple[Path, str], ...]:
    kept: dict[Path, tuple[Path, str]] = {}
    names: set[str] = set()
    for path, name in files:
        if path.resolve() not in kept:
            # Two folders may hold files of one name.
            name = name if name not in names else str(path)
            names.add(name)
            kept[path.resolve()] = path, name
    return tuple(sorted(kept.values(), key=lambda one: one[1]))
