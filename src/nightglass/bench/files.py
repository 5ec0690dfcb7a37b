"""Finding the files below frames/, and telling quickly whether one has changed."""

from __future__ import annotations

import hashlib
import os
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from nightglass.bench.errors import BenchError
from nightglass.frame.source import content_hash, not_a_file, printable

FRAMES_FOLDER = "frames"
OTHER_FILES = frozenset(
    {".txt", ".md", ".toml", ".csv", ".json", ".xmp", ".pdf", ".html", ".log", ".ini", ".db"}
)
"""Notes and side files that people keep beside their frames: passed over without a word."""
PIECE_BYTES = 1 << 16


@dataclass(frozen=True)
class FoundFile:
    """A file below frames/ at the moment of looking."""

    path: str
    """Below frames/, with forward slashes, as the disk spells it."""
    size_bytes: int
    modified_ns: int


@dataclass(frozen=True)
class PassedOver:
    """A file below frames/ that is not measured, whatever is in it."""

    path: str
    """As FoundFile has it, what is no UTF-8 escaped."""
    on_disk: Path
    why: str


@dataclass(frozen=True)
class Found:
    """What lies below frames/: the files in the order of their names, and what can't be read."""

    files: tuple[FoundFile, ...]
    unreadable: tuple[tuple[str, str], ...]
    """(folder or file, reason)"""
    passed_over: tuple[PassedOver, ...] = ()


def find_files(frames_folder: Path) -> Found:
    """Return the files below a folder; hidden and side files are passed over.

    Links to folders are not followed: a loop of links never ends. Pipes and devices, which would
    never end either, and names that no database or page could hold are passed over with a reason.
    """
    files: list[FoundFile] = []
    passed: list[PassedOver] = []
    unreadable: list[tuple[str, str]] = []

    def refused(error: OSError) -> None:
        name = os.path.relpath(error.filename, frames_folder)
        unreadable.append((printable(Path(name).as_posix()), error.strerror or str(error)))

    for folder, folders, names in os.walk(frames_folder, onerror=refused):
        folders[:] = sorted(name for name in folders if not name.startswith("."))
        above = Path(folder).relative_to(frames_folder).as_posix()
        for name in names:
            if name.startswith(".") or os.path.splitext(name)[1].lower() in OTHER_FILES:
                continue
            # Text, not Path: of 10,000 files that is most of the time.
            path = os.path.join(folder, name)
            try:
                status = os.stat(path)
            except OSError as error:
                refused(error)
                continue
            below = name if above == "." else f"{above}/{name}"
            why = _odd(below, status.st_mode)
            if why is not None:
                passed.append(PassedOver(printable(below), Path(path), why))
                continue
            files.append(FoundFile(below, status.st_size, status.st_mtime_ns))
    ordered = tuple(sorted(files, key=lambda file: file.path))
    return Found(ordered, tuple(unreadable), tuple(passed))


def _odd(below: str, mode: int) -> str | None:
    what = not_a_file(mode)
    if what is not None:
        return f"{what}, passed over; only plain files are read"
    if printable(below) != below:
        return "its name is not UTF-8, passed over; rename it"
    return None


def fingerprint(path: Path, size_bytes: int) -> str:
    """Return a hash of size, first and last 64 KiB: different files seldom share it.

    Cheap enough for every file; only those that share one are read whole. Raises OSError.
    """
    digest = hashlib.blake2b(str(size_bytes).encode(), digest_size=16)
    with path.open("rb") as stream:
        digest.update(stream.read(PIECE_BYTES))
        stream.seek(max(0, size_bytes - PIECE_BYTES))
        digest.update(stream.read(PIECE_BYTES))
    return digest.hexdigest()


def hash_file(path: Path) -> str:
    """Return the hash of everything in a file, the same as Frame.content_hash. Raises OSError."""
    with path.open("rb") as stream:
        return content_hash(stream)


def spelled(name: str) -> str:
    """Return a name for comparing: one spelling of accents, no capitals."""
    return unicodedata.normalize("NFC", name).casefold()


def files_of(paths: Sequence[Path]) -> list[Path]:
    """Return the files of a list, each once, in which folders stand for the files below them.

    Raises BenchError for a folder without files.
    """
    files: dict[Path, Path] = {}
    for path in paths:
        below = [path]
        if path.is_dir():
            found = find_files(path)
            below = [path / file.path for file in found.files]
            # Opening them says by name why they can't be used; odd names alone do no harm here.
            below += [odd.on_disk for odd in found.passed_over]
            if not below:
                raise BenchError(f"{path}: no files in this folder; name raw files of the sky")
        for file in below:
            # However it is spelled, a file is taken once.
            files.setdefault(file.resolve(), file)
    return list(files.values())
