"""The bytes of a picture file: opened by Python, hashed in pieces, watched for changes."""

from __future__ import annotations

import hashlib
import io
import os
import stat
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cached_property
from mmap import mmap
from typing import BinaryIO

from nightglass.frame.errors import FrameError

PictureSource = str | os.PathLike[str] | bytes | BinaryIO
"""A path, the bytes of a file, or an open binary file."""

Bytes = bytes | memoryview
Part = tuple[int, int]
"""First byte of a part of a file, and the first behind it."""

CHUNK_BYTES = 1 << 18
"""Small enough that what is read is still in the processor's cache when it is hashed."""
HASH_BYTES = 20
LARGEST_BYTES = 1 << 30
"""No single frame is larger: 150 Mpx in three planes of 16 bits are 0.9 GB."""
NOT_FILES = {
    stat.S_IFIFO: "a named pipe",
    stat.S_IFSOCK: "a socket",
    stat.S_IFCHR: "a device",
    stat.S_IFBLK: "a device",
}


@dataclass(frozen=True)
class Source:
    """An open picture file; `path` is None for bytes and for file objects without a name."""

    name: str
    """As it can be printed: what is no UTF-8 is escaped."""
    stream: BinaryIO
    path: str | None
    size_bytes: int
    modified_ns: int

    @cached_property
    def content_hash(self) -> str:
        """Hash of the whole file, read when first asked for. Raises FrameError."""
        try:
            return content_hash(self.stream)
        except OSError as error:
            raise unreadable(self.name, error) from error

    def everything(self) -> bytes:
        """The whole file. Raises FrameError."""
        try:
            self.stream.seek(0)
            # A read to the end joins what is buffered with the rest: for a moment twice the file.
            return self.stream.read(self.size_bytes)
        except OSError as error:
            raise unreadable(self.name, error) from error

    def hash_of(self, data: Bytes) -> None:
        """Take the hash from the bytes of the whole file: it need not be read again for it."""
        self._keep_hash(hashlib.blake2b(data, digest_size=HASH_BYTES).hexdigest())

    def around(self, part: Part) -> Bytes:
        """The file with at least all that lies outside a part; inside it bytes may stay at 0.

        All of it is read and hashed on the way. What is left out costs no memory: for the rest of
        a file that is nearly all picture, few pages are touched. Raises FrameError.
        """
        digest = hashlib.blake2b(digest_size=HASH_BYTES)
        kept = memoryview(mmap(-1, self.size_bytes))
        try:
            at = 0
            for piece in _pieces(self.stream):
                digest.update(piece)
                end = at + len(piece)
                if not (part[0] <= at and end <= part[1]):
                    # What has grown meanwhile is found by check_unchanged.
                    kept[at:end] = piece[: max(len(kept) - at, 0)]
                at = end
        except OSError as error:
            raise unreadable(self.name, error) from error
        self._keep_hash(digest.hexdigest())
        return kept

    def _keep_hash(self, hexdigits: str) -> None:
        # Where a cached property keeps its value.
        self.__dict__["content_hash"] = hexdigits

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
            yield _described(stream, printable(path), path)
    else:
        source.seek(0)
        yield _described(source, str(getattr(source, "name", "bytes")), None)


def printable(path: str) -> str:
    """Return a path with the bytes that are no UTF-8 escaped, as \\xe9."""
    return os.fsencode(path).decode("utf-8", "backslashreplace")


def not_a_file(mode: int) -> str | None:
    """Return what a path is that would block or never end when read; None for plain files."""
    return NOT_FILES.get(stat.S_IFMT(mode))


def content_hash(stream: BinaryIO) -> str:
    """Return the blake2b hash [40 hex digits] of everything in an open binary file."""
    digest = hashlib.blake2b(digest_size=HASH_BYTES)
    for piece in _pieces(stream):
        digest.update(piece)
    return digest.hexdigest()


def _pieces(stream: BinaryIO) -> Iterator[memoryview]:
    """Give a file piece by piece, each in the place of the one before; end at its start."""
    stream.seek(0)
    # One buffer for all pieces: a whole file of bytes beside the mosaic would double the memory.
    view = memoryview(bytearray(CHUNK_BYTES))
    while count := stream.readinto(view):  # type: ignore[attr-defined]
        yield view[:count]
    stream.seek(0)


def _open_path(path: str) -> BinaryIO:
    name = printable(path)
    try:
        mode = os.stat(path).st_mode
        if stat.S_ISDIR(mode):
            raise FrameError(name, "a folder, not a picture file", "name the files in it")
        what = not_a_file(mode)
        if what is not None:
            raise FrameError(name, f"{what}, not a picture file", "give the file itself")
        return open(path, "rb")
    except FileNotFoundError as error:
        raise FrameError(name, "no such file", "check the name and the folder") from error
    except PermissionError as error:
        raise FrameError(
            name, "no permission to read it", "change its permissions or copy it"
        ) from error
    except (OSError, ValueError) as error:
        raise FrameError(name, f"can't be opened ({error})", "check the disk or card") from error


def unreadable(name: str, error: OSError) -> FrameError:
    """Return the error for a file that the disk or card does not give up."""
    return FrameError(name, f"can't be read ({error})", "check the disk or card")


def _described(stream: BinaryIO, name: str, path: str | None) -> Source:
    try:
        status = os.fstat(stream.fileno()) if path is not None else None
        size = status.st_size if status else stream.seek(0, os.SEEK_END)
    except OSError as error:
        raise unreadable(name, error) from error
    if size == 0:
        raise FrameError(name, "an empty file (0 bytes)", "copy it again from the card")
    if size > LARGEST_BYTES:
        cause = f"a file of {size / 1e9:.1f} GB, larger than any single frame"
        raise FrameError(name, cause, "use single frames, not a composite")
    return Source(name, stream, path, size, status.st_mtime_ns if status else 0)
