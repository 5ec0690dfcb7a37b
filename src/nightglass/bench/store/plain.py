"""The border between numpy and the store: plain numbers, times that keep their zone, stamps."""

from __future__ import annotations

import math
import zlib
from datetime import UTC, datetime, timedelta, timezone

import numpy as np

from nightglass.optics.arrays import Floats32

Plain = int | float | bool | str | bytes | None


def plain(value: object) -> Plain:
    """Return a value as the store may hold it; NaN and infinities become None: not measured.

    A driver stores numpy scalars as raw bytes without a word. Raises TypeError for anything that
    is no single value.
    """
    if isinstance(value, np.generic):
        value = value.item()
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if value is None or isinstance(value, int | str | bytes):
        return value
    raise TypeError(f"{type(value).__name__} can't be stored as one value: {value!r}")


def time_to_text(taken_at: datetime | None) -> tuple[str | None, int | None]:
    """Return (UTC text, minutes ahead of UTC); a time without zone keeps its text and has None."""
    if taken_at is None:
        return None, None
    offset = taken_at.utcoffset()
    if offset is None:
        return taken_at.isoformat(), None
    return (
        taken_at.astimezone(UTC).replace(tzinfo=None).isoformat(),
        round(offset.total_seconds() / 60),
    )


def text_to_time(text: str | None, offset_minutes: int | None) -> datetime | None:
    """Return the time that time_to_text took apart: the same instant in the same zone."""
    if text is None:
        return None
    moment = datetime.fromisoformat(text)
    if offset_minutes is None:
        return moment
    zone = timezone(timedelta(minutes=offset_minutes))
    return moment.replace(tzinfo=UTC).astimezone(zone)


def pack_light(light: Floats32) -> bytes:
    """Return the samples of a stamp, compressed without loss."""
    return zlib.compress(np.ascontiguousarray(light, dtype="<f4").tobytes(), 1)


def unpack_light(packed: bytes, rows: int, columns: int) -> Floats32:
    """Return the (rows, columns) stamp that pack_light packed."""
    flat = np.frombuffer(zlib.decompress(packed), dtype="<f4")
    return flat.reshape(rows, columns).astype(np.float32, copy=False)
