"""The schema of the store: its number, and the steps that bring an older store up to it.

Numbered steps of our own, not a migration library: they run inside the store's one write
transaction, so that a step that is killed leaves the old store whole, and they need no folder of
scripts beside a database that people copy and mail. A step only adds; what was measured stays.
"""

from __future__ import annotations

import zlib
from collections.abc import Callable

import sqlalchemy as sa

from nightglass.bench.store.tables import about, frames, kept, tables

FIRST_STAMP = "a238486d"
"""What stores carried before schemas had numbers: they are schema 1."""


def _keep_sky_results(connection: sa.Connection) -> None:
    kept.create(connection)


def _keep_default_crop(connection: sa.Connection) -> None:
    for name in ("crop_width_px", "crop_height_px"):
        connection.execute(sa.text(f"ALTER TABLE {frames.name} ADD COLUMN {name} INTEGER"))


STEPS: tuple[Callable[[sa.Connection], None], ...] = (_keep_sky_results, _keep_default_crop)
"""Step k (from 0) makes schema k + 2 out of schema k + 1."""
SCHEMA = len(STEPS) + 1
COLUMNS_STAMP = "8af295bf"
"""Stamp of the tables that SCHEMA stands for: a column that changes without a step fails a test."""


class NewerSchemaError(Exception):
    """The store was made by a newer version."""


def columns_stamp() -> str:
    """Return a stamp of all tables and their columns."""
    text = " ".join(
        f"{column} {column.type!r} {column.nullable}"
        for table in tables.sorted_tables
        for column in table.columns
    )
    return f"{zlib.crc32(text.encode()):08x}"


def schema_of(connection: sa.Connection) -> int | None:
    """Return the number of a store's schema; None where there are no tables yet."""
    if not sa.inspect(connection).has_table(about.name):
        return None
    query = sa.select(about.c.value).where(about.c.name == "schema")
    value = connection.execute(query).scalar()
    if value is None:
        return None
    if value == FIRST_STAMP:
        return 1
    if not value.isdigit():
        raise NewerSchemaError(value)
    return int(value)


def bring_up(connection: sa.Connection) -> None:
    """Make the tables, or add to an older store what it lacks; inside the caller's transaction.

    Raises NewerSchemaError for a store of a newer version.
    """
    found = schema_of(connection)
    if found is None:
        tables.create_all(connection)
    elif found > SCHEMA:
        raise NewerSchemaError(str(found))
    else:
        for step in STEPS[found - 1 :]:
            step(connection)
    connection.execute(sa.delete(about).where(about.c.name == "schema"))
    connection.execute(sa.insert(about).values(name="schema", value=str(SCHEMA)))
