"""The bytes of an Exif directory: little-endian TIFF entries (CIPA DC-008 Exif 2.32, 4.6)."""

from __future__ import annotations

import struct
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction


@dataclass(frozen=True)
class AsciiTag:
    """Text, written as UTF-8 with its closing zero."""

    code: int
    text: str

    def packed(self) -> tuple[int, int, bytes]:
        """TIFF type, count and value bytes."""
        data = self.text.encode() + b"\0"
        return 2, len(data), data


@dataclass(frozen=True)
class LongTag:
    """A whole number: 16 bits where it fits, else 32."""

    code: int
    value: int

    def packed(self) -> tuple[int, int, bytes]:
        """TIFF type, count and value bytes."""
        if self.value <= 65535:
            return 3, 1, struct.pack("<H", self.value)
        return 4, 1, struct.pack("<I", self.value)


@dataclass(frozen=True)
class RationalTag:
    """A fraction of two unsigned numbers; `pair` writes what no Fraction can hold, such as 0/0."""

    code: int
    value: Fraction | tuple[int, int]

    def packed(self) -> tuple[int, int, bytes]:
        """TIFF type, count and value bytes."""
        pair = self.value if isinstance(self.value, tuple) else self.value.as_integer_ratio()
        return 5, 1, struct.pack("<II", *pair)


ExifTag = AsciiTag | LongTag | RationalTag


def exif_ifd(tags: Sequence[ExifTag], start: int) -> bytes:
    """Return the directory's bytes for a place `start` [bytes] in the file, values behind it."""
    ordered = sorted(tags, key=lambda tag: tag.code)
    values_at = start + 2 + 12 * len(ordered) + 4
    entries, values = b"", b""
    for tag in ordered:
        kind, count, data = tag.packed()
        if len(data) <= 4:
            field = data.ljust(4, b"\0")
        else:
            field = struct.pack("<I", values_at + len(values))
            values += data + b"\0" * (len(data) % 2)
        entries += struct.pack("<HHI", tag.code, kind, count) + field
    return struct.pack("<H", len(ordered)) + entries + struct.pack("<I", 0) + values
