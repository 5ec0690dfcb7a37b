"""The bytes of a picture file: opened by Python, hashed in pieces, watched for changes."""

from __future__ import annotations

import hashlib
import io
import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import BinaryIO

from nightglass.frame.errors import FrameError

PictureSource = str | os.PathLike[str] | bytes | BinaryIO
"""A path, the bytes of a file, or an open binary file."""

CHUNK_BYTES = 1 << 20
HASH_BYTES = 20


@dataclass(frozen=True)
class Source:
    """An open picture file; `path` is None for bytes and for file objects without a name."""

    name: str
    stream: BinaryIO
    path: str | None
    size_bytes: int
    content_hash: str
    modified_ns: int

    def start(self, count: int = 16) -> bytes:
        """First bytes of the file."""
        self.stream.seek(0)
        return self.stream.read(count)

    def check_unchanged(self) -> None:
        """Raise FrameError if the file on disk has changed since it was opened."""
        if self.path is None:
            return
        try:
            now = os.stat(self.path)
        except OSError as error:
            raise FrameError(self.name, "gone while it was read", "copy it again") from error
        if (now.st_size, now.st_mtime_ns) != (self.size_bytes, self.modified_ns):
            raise FrameError(
                self.name,
                f"changed while it was read ({self.size_bytes} to {now.st_size} bytes)",
                "wait until the copy has finished, then measure again",
            )


@contextmanager
def opened(source: PictureSource) -> Iterator[Source]:
    """Open a path, bytes or a binary file; the handle is free when the block ends.

    Raises FrameError for a file that is missing, a folder, not readable or empty.
    """
    if isinstance(source, bytes):
        yield _described(io.BytesIO(source), "bytes", None)
    elif isinstance(source, str | os.PathLike):
        path = os.fspath(source)
        with _open_path(path) as stream:
            yield _described(stream, path, path)
    else:
        source.seek(0)
        yield _described(source, str(getattr(source, "name", "bytes")), None)


def content_hash(stream: BinaryIO) -> str:
    """Return the blake2b hash [40 hex digits] of everything in an open binary file."""
    digest = hashlib.blake2b(digest_size=HASH_BYTES)
    stream.seek(0)
    # One buffer for all pieces: a whole file of bytes beside the mosaic would double the memory.
    buffer = bytearray(CHUNK_BYTES)
    view = memoryview(buffer)
    while count := stream.readinto(view):  # type: ignore[attr-defined]
        digest.update(view[:count])
    stream.seek(0)
    return digest.hexdigest()


def _open_path(path: str) -> BinaryIO:
    if os.path.isdir(path):
        raise FrameError(path, "a folder, not a picture file", "name the files in it")
    try:
        return open(path, "rb")
    except FileNotFoundError as error:
        raise FrameError(path, "no such file", "check the name and the folder") from error
    except PermissionError as error:
        raise FrameError(
            path, "no permission to read it", "change its permissions or copy it"
        ) from error
    except (OSError, ValueError) as error:
        raise FrameError(path, f"can't be opened ({error})", "check the disk or card") from error


def _described(stream: BinaryIO, name: str, path: str | None) -> Source:
    try:
        status = os.fstat(stream.fileno()) if path is not None else None
        size = status.st_size if status else stream.seek(0, os.SEEK_END)
        digest = content_hash(stream)
    except OSError as error:
        raise FrameError(name, f"can't be read ({error})", "check the disk or card") from error
    if size == 0:
        raise FrameError(name, "an empty file (0 bytes)", "copy it again from the card")
    return Source(name, stream, path, size, digest, status.st_mtime_ns if status else 0)
