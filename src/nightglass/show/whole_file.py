"""Files that are there whole or not at all."""

from __future__ import annotations

from pathlib import Path


def write_whole(path: Path, content: bytes) -> Path:
    """Write a file, in place of an older one only once the new one is complete; return its path.

    Raises OSError where it can't be written.
    """
    part = path.with_name(path.name + ".part")
    try:
        part.write_bytes(content)
        part.replace(path)
    finally:
        part.unlink(missing_ok=True)
    return path
