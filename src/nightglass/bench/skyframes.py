"""Frames of the real sky beside the bench's own: their names, and the bench that they lie in."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from nightglass.bench.assign import SKY_PREFIX, unmatched_sky_rules
from nightglass.bench.beside import SKY, FileBeside
from nightglass.bench.files import find_files
from nightglass.gear.benchfile import BenchFile


def sky_names(folder: Path) -> tuple[str, ...]:
    """Return the names of the files below sky/ of a bench folder, "sky/..."; none without one."""
    found = find_files(folder / SKY.name)
    return tuple(f"{SKY_PREFIX}{file.path}" for file in found.files)


def unmatched_sky_tables(bench: BenchFile, files: Sequence[FileBeside]) -> tuple[str, ...]:
    """Return one line for each [[frames]] table that begins with sky/ and fits none of them."""
    return unmatched_sky_rules(bench, [file.name for file in files])


def sky_name(file: Path) -> str:
    """Return the name of a frame of the sky as [[frames]] tables match it: "sky/..." from the last
    folder of that name on."""
    parts = file.parts
    at = max((k for k, part in enumerate(parts[:-1]) if part == SKY.name), default=len(parts) - 2)
    return SKY_PREFIX + "/".join(parts[at + 1 :])


def bench_of(files: Sequence[Path]) -> Path | None:
    """Return the bench folder below whose sky/ all of the files lie; None if there is no one."""
    above = {
        parent.parent
        for file in files
        for parent in file.resolve().parents
        if parent.name == SKY.name and (parent.parent / "bench.toml").is_file()
    }
    folder = next(iter(above), None)
    inside = folder is not None and all((folder / SKY.name) in f.resolve().parents for f in files)
    return folder if len(above) == 1 and inside else None
