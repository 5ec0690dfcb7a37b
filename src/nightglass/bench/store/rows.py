"""Records of the store and their rows: what goes in comes out the same."""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any, Literal

import sqlalchemy as sa

from nightglass.bench.store.plain import pack_light, plain, text_to_time, time_to_text
from nightglass.frame.record import Metadata
from nightglass.spot.record import Spot, SpotImage

State = Literal["measured", "refused", "duplicate"]

SPOT_FIELDS = tuple(f.name for f in dataclasses.fields(Spot) if f.name != "file")
_PLAIN_COLUMNS = (
    "path", "content_hash", "fingerprint", "size_bytes", "modified_ns", "state", "reason",
    "try_again", "missing", "same_as", "kind", "width_px", "height_px", "gain_e_per_count",
    "crop_width_px", "crop_height_px",
)  # fmt: skip
_METADATA_COLUMNS = (
    "body", "body_serial", "lens", "lens_serial", "firmware", "focal_mm", "f_number", "iso",
    "exposure_marked_s", "exposure_true_s", "exposure_mode",
)  # fmt: skip


@dataclass(frozen=True)
class FrameOnRecord:
    """A file below frames/ as the store knows it."""

    path: str
    """Below frames/, with forward slashes."""
    content_hash: str
    fingerprint: str
    size_bytes: int
    modified_ns: int
    state: State
    reason: str | None = None
    try_again: bool = False
    """Refused for something that may pass: no permission, a time limit, a worker that died."""
    missing: bool = False
    same_as: str | None = None
    near_px: tuple[float, float] | None = None
    kind: str | None = None
    width_px: int | None = None
    height_px: int | None = None
    crop_width_px: int | None = None
    crop_height_px: int | None = None
    """Of the file's default crop; None where it names none."""
    metadata: Metadata = field(default_factory=Metadata)
    notes: tuple[str, ...] = ()
    gain_e_per_count: float | None = None
    """With which it was measured, from bench.toml; None: not known there."""
    levels: Mapping[str, Any] | None = None
    """The brightest samples per colour, for clipping levels pooled over frames."""


def frame_row(frame: FrameOnRecord) -> dict[str, Any]:
    """Return the columns of a frame on record, its key and bench apart."""
    taken, offset = time_to_text(frame.metadata.taken_at)
    near = frame.near_px or (None, None)
    row = {name: getattr(frame, name) for name in _PLAIN_COLUMNS}
    row |= {name: getattr(frame.metadata, name) for name in _METADATA_COLUMNS}
    row |= {
        "near_x_px": near[0],
        "near_y_px": near[1],
        "taken_at_utc": taken,
        "taken_offset_minutes": offset,
        "metadata_notes": json.dumps(frame.metadata.notes),
        "notes": json.dumps(frame.notes),
        "levels": json.dumps(frame.levels) if frame.levels is not None else None,
        "measured_at_utc": datetime.now(UTC).replace(tzinfo=None).isoformat(timespec="seconds"),
    }
    return {name: plain(value) for name, value in row.items()}


def frame_from_row(row: sa.RowMapping) -> FrameOnRecord:
    """Return the frame on record that frame_row made these columns of."""
    taken = text_to_time(row["taken_at_utc"], row["taken_offset_minutes"])
    near = row["near_x_px"], row["near_y_px"]
    return FrameOnRecord(
        **{name: row[name] for name in _PLAIN_COLUMNS},
        near_px=None if near[0] is None or near[1] is None else (near[0], near[1]),
        metadata=Metadata(
            **{name: row[name] for name in _METADATA_COLUMNS},
            taken_at=taken,
            zone_known=row["taken_offset_minutes"] is not None,
            notes=tuple(json.loads(row["metadata_notes"])),
        ),
        notes=tuple(json.loads(row["notes"])),
        levels=json.loads(row["levels"]) if row["levels"] else None,
    )


def spot_row(spot: Spot) -> dict[str, Any]:
    """Return the columns of a spot, its frame apart."""
    row = {name: getattr(spot, name) for name in SPOT_FIELDS}
    row["flags"] = json.dumps(spot.flags)
    return {name: plain(value) for name, value in row.items()}


def stamp_row(image: SpotImage) -> dict[str, Any]:
    """Return the columns of a stamp, its frame and colour apart."""
    rows, columns = image.light.shape
    row = {
        "left_px": image.left_px,
        "top_px": image.top_px,
        "rows": rows,
        "columns": columns,
        "light": pack_light(image.light),
    }
    return {name: plain(value) for name, value in row.items()}


def spot_from_values(path: str, values: Sequence[Any]) -> Spot:
    """Return the spot whose columns, in the order of SPOT_FIELDS, spot_row made."""
    fields = dict(zip(SPOT_FIELDS, values, strict=True))
    return Spot(file=path, **{**fields, "flags": tuple(json.loads(fields["flags"]))})
