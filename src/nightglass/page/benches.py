"""The benches that the page may open: those that the person named, here or on the command line."""

from __future__ import annotations

import hashlib
import json
import os
from dataclasses import dataclass
from pathlib import Path

from nightglass.gear.bag import BENCH_FILE_NAME, BenchFile, read_bench_file

MOST_REMEMBERED = 60


class UnknownBenchError(LookupError):
    """No bench of that key was named by the person."""


@dataclass(frozen=True)
class Remembered:
    """A bench on the list of the start page."""

    key: str
    folder: Path
    is_there: bool


class Benches:
    """Folders by a key that tells nothing of where they lie, newest first.

    The list is kept in a file, so that the next run shows it again. Nothing else of the disk can
    be reached: a key that is not on the list opens nothing.
    """

    def __init__(self, file: Path) -> None:
        self._file = file

    def listed(self) -> tuple[Remembered, ...]:
        """Return the benches, the one opened last first."""
        return tuple(
            Remembered(_key(folder), folder, (folder / BENCH_FILE_NAME).is_file())
            for folder in self._folders()
        )

    def remember(self, folder: Path) -> str:
        """Put a folder first on the list; return its key."""
        whole = folder.resolve()
        self._write([whole, *(known for known in self._folders() if known != whole)])
        return _key(whole)

    def forget(self, key: str) -> None:
        """Take a folder off the list; the folder itself stays as it is."""
        self._write([folder for folder in self._folders() if _key(folder) != key])

    def folder(self, key: str) -> Path:
        """Return the folder of a key. Raises UnknownBenchError."""
        for folder in self._folders():
            if _key(folder) == key:
                return folder
        raise UnknownBenchError("no bench of this address is on the list; choose one at the start")

    def bench(self, key: str) -> BenchFile:
        """Return what bench.toml of a key says. Raises UnknownBenchError, BenchFileError."""
        return read_bench_file(self.folder(key))

    def _folders(self) -> list[Path]:
        try:
            found = json.loads(self._file.read_text(encoding="utf-8"))
        except (OSError, ValueError):
            return []
        names = found.get("benches", []) if isinstance(found, dict) else []
        return [Path(name) for name in names if isinstance(name, str)]

    def _write(self, folders: list[Path]) -> None:
        self._file.parent.mkdir(parents=True, exist_ok=True)
        names = [str(folder) for folder in folders[:MOST_REMEMBERED]]
        unfinished = self._file.with_name(f".{self._file.name}.unfinished")
        unfinished.write_text(json.dumps({"benches": names}, ensure_ascii=False, indent=1), "utf-8")
        os.replace(unfinished, self._file)


def _key(folder: Path) -> str:
    return hashlib.blake2b(str(folder).encode(errors="surrogateescape"), digest_size=6).hexdigest()
