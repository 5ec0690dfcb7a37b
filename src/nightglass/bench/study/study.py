"""What every kind of study has: a way to its results, and a table of its own in the store.

A study reads frames on record and bench.toml and gives frozen records. Its table holds what was
worked out last, under a key of everything that it came from; whatever of that has changed, the
results are worked out anew. Nothing in such a table was measured: a table whose columns have
changed is made again, without a step of the schema.
"""

from __future__ import annotations

import contextlib
import dataclasses
import hashlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

import sqlalchemy as sa

from nightglass.bench.errors import StoreError
from nightglass.bench.kept import code_stamp
from nightglass.bench.store.packing import LayoutError, pack
from nightglass.bench.store.store import Store
from nightglass.bench.store.tables import frames
from nightglass.gear.benchfile import BenchFile

Result = TypeVar("Result")

_CAME_FROM = (
    "id", "path", "content_hash", "state", "missing", "near_x_px", "near_y_px",
    "gain_e_per_count", "measured_at_utc",
)  # fmt: skip
"""Columns of a frame on record that change whenever its measurement may."""


@dataclass(frozen=True)
class Study(Generic[Result]):
    """One kind of study; its file in this room holds its records, its table and its arithmetic."""

    name: str
    work_out: Callable[[Store, BenchFile], tuple[Result, ...]]
    """From frames on record to results. Raises StoreError."""
    table: sa.Table
    """Made by study_table."""
    to_row: Callable[[Result], dict[str, Any]]
    """The columns of one result, plain values."""
    from_row: Callable[[Mapping[str, Any]], Result]
    """The result that to_row took apart. Raises LayoutError for a row that can't be read."""
    when_asked: bool = False
    """Whether it takes seconds, so that it is worked out when asked for and not by `measure`."""


def study_table(name: str, *columns: sa.Column[Any]) -> sa.Table:
    """Return the table of a study: nightglass_study_NAME, one row a result, in their order.

    seen_by: the body whose frames the results are of.
    """
    return sa.Table(
        f"nightglass_study_{name}",
        sa.MetaData(),
        sa.Column("bench", sa.Text, primary_key=True),
        sa.Column("seen_by", sa.Text, primary_key=True),
        sa.Column("number", sa.Integer, primary_key=True),
        *columns,
    )


def results_of(study: Study[Result], store: Store, bench: BenchFile) -> tuple[Result, ...]:
    """Return the results of a study: from its table if they still hold, else worked out.

    Nothing is written: commands that only read work on a store that can't be written.
    """
    found = _in_table(study, store, bench, _key(study, store, bench))
    return study.work_out(store, bench) if found is None else found


def bring_up_to_date(study: Study[Result], store: Store, bench: BenchFile) -> tuple[Result, ...]:
    """Return the results of a study and put them into its table, if they are not there already.

    Raises StoreError for a store that can't be written.
    """
    key = _key(study, store, bench)
    found = _in_table(study, store, bench, key)
    if found is None:
        found = study.work_out(store, bench)
        _put(study, store, bench, key, found)
    return found


def kept_results(study: Study[Result], store: Store, bench: BenchFile) -> tuple[Result, ...]:
    """Return the results of a study, kept where the store can be written."""
    key = _key(study, store, bench)
    found = _in_table(study, store, bench, key)
    if found is None:
        found = study.work_out(store, bench)
        with contextlib.suppress(StoreError):
            _put(study, store, bench, key, found)
    return found


def _put(
    study: Study[Result], store: Store, bench: BenchFile, key: str, results: Sequence[Result]
) -> None:
    rows = [
        {"bench": store.bench, "seen_by": bench.body.name, "number": number, **study.to_row(result)}
        for number, result in enumerate(results)
    ]
    of_body = _rows_of(study, store, bench)

    def write(connection: sa.Connection) -> None:
        if not _has_table(connection, study.table):
            study.table.drop(connection, checkfirst=True)
            study.table.create(connection)
        connection.execute(sa.delete(study.table).where(*of_body))
        if rows:
            connection.execute(sa.insert(study.table), rows)
        store.put_content(connection, _subject(study), bench.body.name, key.encode())

    store.write(write)


def _rows_of(
    study: Study[Any], store: Store, bench: BenchFile
) -> tuple[sa.ColumnElement[bool], sa.ColumnElement[bool]]:
    columns = study.table.c
    return columns.bench == store.bench, columns.seen_by == bench.body.name


def _in_table(
    study: Study[Result], store: Store, bench: BenchFile, key: str
) -> tuple[Result, ...] | None:
    """What the table holds under this key, in its order; None where it holds something else."""
    if store.find(_subject(study), bench.body.name) != key.encode():
        return None
    query = sa.select(study.table).where(*_rows_of(study, store, bench))
    with store.reading() as connection:
        if not _has_table(connection, study.table):
            return None
        rows = connection.execute(query.order_by(study.table.c.number)).mappings().all()
    try:
        return tuple(study.from_row(dict(row)) for row in rows)
    except LayoutError:
        return None


def _has_table(connection: sa.Connection, table: sa.Table) -> bool:
    """Whether the table is there with just these columns."""
    look = sa.inspect(connection)
    if not look.has_table(table.name):
        return False
    return {c["name"] for c in look.get_columns(table.name)} == set(table.c.keys())


def _subject(study: Study[Any]) -> str:
    return f"study {study.name}"


def _key(study: Study[Any], store: Store, bench: BenchFile) -> str:
    """Digest of what results come from: frames on record, bench.toml, the study, the code."""
    columns = [frames.c[name] for name in _CAME_FROM]
    query = sa.select(*columns).where(frames.c.bench == store.bench).order_by(frames.c.path)
    with store.reading() as connection:
        on_record = [tuple(row) for row in connection.execute(query)]
    # Where the folder lies does not matter: a bench may be moved or copied.
    asked = (study.name, dataclasses.replace(bench, path=None), on_record, code_stamp())
    return hashlib.blake2b(pack(asked), digest_size=24).hexdigest()
