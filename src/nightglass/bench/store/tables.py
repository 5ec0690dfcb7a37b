"""Tables of the bench store. Columns of spots follow spot.record.Spot, never typed twice."""

from __future__ import annotations

import dataclasses

from sqlalchemy import (
    BigInteger,
    Boolean,
    Column,
    Double,
    ForeignKey,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    Text,
    UniqueConstraint,
)

from nightglass.spot.record import Spot

tables = MetaData()

about = Table(
    "nightglass_about",
    tables,
    Column("name", String(40), primary_key=True),
    Column("value", Text, nullable=False),
)

frames = Table(
    "nightglass_frames",
    tables,
    Column("id", Integer, primary_key=True),
    Column("bench", Text, nullable=False),
    Column("path", Text, nullable=False),
    Column("content_hash", String(64), nullable=False),
    Column("fingerprint", String(64), nullable=False),
    Column("size_bytes", BigInteger, nullable=False),
    Column("modified_ns", BigInteger, nullable=False),
    Column("state", String(12), nullable=False),
    Column("reason", Text),
    Column("try_again", Boolean, nullable=False),
    Column("missing", Boolean, nullable=False),
    Column("same_as", Text),
    Column("near_x_px", Double),
    Column("near_y_px", Double),
    Column("kind", String(12)),
    Column("width_px", Integer),
    Column("height_px", Integer),
    Column("gain_e_per_count", Double),
    Column("body", Text),
    Column("body_serial", Text),
    Column("lens", Text),
    Column("lens_serial", Text),
    Column("firmware", Text),
    Column("focal_mm", Double),
    Column("f_number", Double),
    Column("iso", Integer),
    Column("exposure_marked_s", Double),
    Column("exposure_true_s", Double),
    Column("exposure_mode", Text),
    # SQLite drops the zone of a date and time: UTC text and offset come back as one instant.
    Column("taken_at_utc", String(32)),
    Column("taken_offset_minutes", Integer),
    Column("metadata_notes", Text, nullable=False),
    Column("notes", Text, nullable=False),
    Column("levels", Text),
    Column("measured_at_utc", String(32), nullable=False),
    # Of later schemas, in their order: an older store gets them at the end.
    Column("crop_width_px", Integer),
    Column("crop_height_px", Integer),
    UniqueConstraint("bench", "path"),
)


def _spot_type(annotation: str) -> Double[float] | Integer | Text:
    if annotation.startswith("float"):
        return Double()
    return Integer() if annotation.startswith("int") else Text()


spots = Table(
    "nightglass_spots",
    tables,
    Column("frame_id", ForeignKey("nightglass_frames.id", ondelete="CASCADE"), primary_key=True),
    *(
        Column(
            field.name,
            _spot_type(str(field.type)),
            primary_key=field.name == "colour",
            nullable=field.name not in ("colour", "flags", "clipping_from"),
        )
        for field in dataclasses.fields(Spot)
        if field.name != "file"
    ),
)

stamps = Table(
    "nightglass_stamps",
    tables,
    Column("frame_id", ForeignKey("nightglass_frames.id", ondelete="CASCADE"), primary_key=True),
    Column("colour", String(8), primary_key=True),
    Column("left_px", Integer, nullable=False),
    Column("top_px", Integer, nullable=False),
    Column("rows", Integer, nullable=False),
    Column("columns", Integer, nullable=False),
    Column("light", LargeBinary, nullable=False),
)

kept = Table(
    "nightglass_kept",
    tables,
    # What was worked out from files that lie beside the bench: frames of the sky.
    Column("bench", Text, primary_key=True),
    Column("subject", String(40), primary_key=True),
    Column("key", String(64), primary_key=True),
    Column("content", LargeBinary, nullable=False),
    Column("kept_at_utc", String(32), nullable=False),
)
