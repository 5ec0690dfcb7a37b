"""Files that a browser sends: they land below a folder of the bench, whole or not at all.

Nothing that lies there is overwritten, no name leads out of the folder, and nothing of a file is
read here: that is the work of the measuring processes.
"""

from __future__ import annotations

import asyncio
import contextlib
import filecmp
import os
import re
import secrets
import time
import unicodedata
from collections.abc import AsyncIterator
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import Literal

from nightglass.bench.files import OTHER_FILES

NO_FRAMES = OTHER_FILES | {
    ".exe", ".com", ".bat", ".cmd", ".msi", ".app", ".sh", ".py", ".js", ".jar", ".php", ".htm",
    ".svg", ".zip", ".tar", ".gz", ".7z", ".rar", ".iso", ".mov", ".mp4", ".avi", ".mp3", ".wav",
    ".xhtml", ".xht", ".shtml", ".xml", ".mjs", ".wasm", ".css", ".ps1", ".vbs", ".doc",
    ".docx", ".xls", ".xlsx", ".sqlite", ".lnk", ".url", ".part",
}  # fmt: skip
"""Endings that no camera gives to a frame. Whether the others are frames, the readers find out."""
_ENDING = re.compile(r"\.[A-Za-z0-9]{2,5}$")
LONGEST_PART_BYTES, MOST_PARTS = 120, 6
SLOWEST_PIECE_S = 60.0
"""A connection that sends nothing for so long is given up."""
COMING, LEFT_AFTER_S = ".coming-", 3600.0
"""How a file is called while it comes, and after how long without a byte nobody sends it."""
_SPECIAL = frozenset('\\:*?"<>|')


class RefusedUploadError(ValueError):
    """A file that is not taken, with the reason and what to do."""


@dataclass(frozen=True)
class Landed:
    """A file that was taken."""

    path: str
    """Below the folder."""
    state: Literal["new", "there already"]


def place_for(name: str) -> PurePosixPath:
    """Return where a file of that name goes, below the folder. Raises RefusedUploadError."""
    plain = unicodedata.normalize("NFC", name.replace("\\", "/"))
    parts = [part for part in plain.split("/") if part]
    if not parts or len(parts) > MOST_PARTS or plain.startswith("/"):
        raise RefusedUploadError(f"{shown_name(name)}: no name that can be used; rename it")
    for part in parts:
        if (
            part.startswith(".")
            or part != part.strip()
            or not part.isprintable()
            or _SPECIAL & set(part)
            or len(part.encode()) > LONGEST_PART_BYTES
        ):
            raise RefusedUploadError(
                f"{shown_name(name)}: no name that every disk can hold; rename it with letters, "
                "digits and hyphens"
            )
    ending = _ENDING.search(parts[-1])
    if ending is None or ending[0].lower() in NO_FRAMES:
        raise RefusedUploadError(
            f"{shown_name(name)}: not a raw file or picture by its name; drop the files as the "
            "camera wrote them"
        )
    return PurePosixPath(*parts)


async def take(folder: Path, name: str, pieces: AsyncIterator[bytes], size_bytes: int) -> Landed:
    """Write a file below a folder as its pieces come; return where it landed.

    size_bytes: what was announced; a file that ends earlier is thrown away. A name that is taken
    by other content gets a number. Raises RefusedUploadError, or OSError where it can't be
    written.
    """
    place = place_for(name)
    target = _inside(folder, place)
    target.parent.mkdir(parents=True, exist_ok=True)
    await asyncio.to_thread(_tidy, target.parent)
    part = target.parent / f"{COMING}{secrets.token_hex(8)}"
    try:
        with part.open("xb") as stream:
            written = 0
            async for piece in _in_time(pieces, name):
                stream.write(piece)
                written += len(piece)
            stream.flush()
            os.fsync(stream.fileno())
        if written != size_bytes or not written:
            raise RefusedUploadError(
                f"{shown_name(name)}: {written} of {size_bytes} bytes came; send it again"
            )
        return await asyncio.to_thread(_land, part, target, folder)
    finally:
        part.unlink(missing_ok=True)


def _tidy(folder: Path) -> None:
    """Take away what a page that was killed left half written."""
    with os.scandir(folder) as entries:
        half = [entry for entry in entries if entry.name.startswith(COMING)]
    for entry in half:
        with contextlib.suppress(FileNotFoundError):
            if time.time() - entry.stat().st_mtime > LEFT_AFTER_S:
                os.unlink(entry.path)


async def _in_time(pieces: AsyncIterator[bytes], name: str) -> AsyncIterator[bytes]:
    while True:
        try:
            yield await asyncio.wait_for(anext(pieces), SLOWEST_PIECE_S)
        except StopAsyncIteration:
            return
        except TimeoutError:
            raise RefusedUploadError(
                f"{shown_name(name)}: nothing came for {SLOWEST_PIECE_S:.0f} s; send it again"
            ) from None


def _inside(folder: Path, place: PurePosixPath) -> Path:
    """The path of a place; links that lead out of the folder are refused."""
    target = folder / place
    known = target.parent
    while not known.exists():
        known = known.parent
    if not known.resolve().is_relative_to(folder.resolve()):
        raise RefusedUploadError(f"{place}: its folder leads out of the bench; rename it")
    return target


def _land(part: Path, target: Path, folder: Path) -> Landed:
    number, place = 2, target
    while True:
        try:
            _rename_new(part, place)
            return Landed(place.relative_to(folder).as_posix(), "new")
        except FileExistsError:
            if place.is_file() and filecmp.cmp(part, place, shallow=False):
                return Landed(place.relative_to(folder).as_posix(), "there already")
            place = target.with_name(f"{target.stem}-{number}{target.suffix}")
            number += 1


def _rename_new(part: Path, place: Path) -> None:
    """Give a file its name, unless that is taken. Raises FileExistsError then."""
    try:
        os.link(part, place)
    except FileExistsError:
        raise
    except OSError:
        # Disks without hard links: the empty file keeps the name while the content moves in.
        with place.open("xb"):
            pass
        os.replace(part, place)


def shown_name(name: str) -> str:
    """Return a name as it can be printed, shortened."""
    plain = "".join(c if c.isprintable() else "?" for c in name)
    return plain if len(plain) <= 80 else plain[:79] + "\N{HORIZONTAL ELLIPSIS}"
