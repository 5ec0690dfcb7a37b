"""From frames on record to sessions: what drifted in them, what differs between them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import sqlalchemy as sa

from nightglass.bench.combined.sightings import sightings_on_record
from nightglass.bench.sessions.correct import sessions_of, tied_together
from nightglass.bench.sessions.records import SessionOnRecord
from nightglass.bench.store.packing import pack, unpack
from nightglass.bench.store.store import Store
from nightglass.bench.study.study import Study, study_table
from nightglass.gear.benchfile import BenchFile


def sessions_on_record(store: Store, bench: BenchFile) -> tuple[SessionOnRecord, ...]:
    """Return the sessions of a bench in the order of time. Raises StoreError."""
    sightings = sightings_on_record(store, bench)
    return sessions_of(sightings, tied_together(sightings, bench))


def _row(session: SessionOnRecord) -> dict[str, Any]:
    return {"session": session.name, "frames": session.frames, "content": pack(session)}


def _from_row(row: Mapping[str, Any]) -> SessionOnRecord:
    found: SessionOnRecord = unpack(row["content"])
    return found


SESSIONS = Study(
    name="sessions",
    work_out=sessions_on_record,
    table=study_table(
        "sessions",
        sa.Column("session", sa.Text, nullable=False),
        sa.Column("frames", sa.Integer, nullable=False),
        sa.Column("content", sa.LargeBinary, nullable=False),
    ),
    to_row=_row,
    from_row=_from_row,
)
