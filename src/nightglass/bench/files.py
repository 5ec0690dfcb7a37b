"""Finding the files below frames/, and telling quickly whether one has changed."""

from __future__ import annotations

import hashlib
import os
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from nightglass.bench.errors import BenchError
from nightglass.frame.source import content_hash

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
class Found:
    """What lies below frames/: the files in the order of their names, and what can't be read."""

    files: tuple[FoundFile, ...]
    unreadable: tuple[tuple[str, str], ...]
    """(folder or file, reason)"""


def find_files(frames_folder: Path) -> Found:
    """Return the files below a folder; hidden and side files are passed over.

    Links to folders are not followed: a loop of links never ends.
    """
    files: list[FoundFile] = []
    unreadable: list[tuple[str, str]] = []

    def refused(error: OSError) -> None:
        name = os.path.relpath(error.filename, frames_folder)
        unreadable.append((Path(name).as_posix(), error.strerror or str(error)))

    for folder, folders, names in os.walk(frames_folder, onerror=refused):
        folders[:] = sorted(name for name in folders if not name.startswith("."))
        for name in names:
            if name.startswith(".") or Path(name).suffix.lower() in OTHER_FILES:
                continue
            path = Path(folder, name)
            try:
                status = path.stat()
            except OSError as error:
                refused(error)
                continue
            below = path.relative_to(frames_folder).as_posix()
            files.append(FoundFile(below, status.st_size, status.st_mtime_ns))
    return Found(tuple(sorted(files, key=lambda file: file.path)), tuple(unreadable))


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
            below = [path / found.path for found in find_files(path).files]
            if not below:
                raise BenchError(f"{path}: no files in this folder; name raw files of the sky")
        for file in below:
            # However it is spelled, a file is taken once.
            files.setdefault(file.resolve(), file)
    return list(files.values())
