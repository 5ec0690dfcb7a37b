"""The bench store: everything measured and refused, each frame in one transaction of its own."""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from sqlalchemy.exc import DatabaseError, OperationalError, SQLAlchemyError

from nightglass.bench.errors import StoreError
from nightglass.bench.store.plain import plain, unpack_light
from nightglass.bench.store.rows import (
    SPOT_FIELDS,
    FrameOnRecord,
    frame_from_row,
    frame_row,
    spot_from_values,
    spot_row,
    stamp_row,
)
from nightglass.bench.store.schema import SCHEMA, NewerSchemaError, bring_up, schema_of
from nightglass.bench.store.tables import frames, kept, spots, stamps
from nightglass.gear.benchfile import BenchFile
from nightglass.spot.record import Measured, Spot, SpotImage

STORE_NAME = "bench.sqlite"
STORE_VARIABLE = "NIGHTGLASS_STORE"
"""Environment variable that names another database for all benches of this machine."""
FEW = 100
"""Up to so many are asked for by name, more are picked from all."""
WAIT_S = 30.0
"""How long a writer waits for another one."""


def store_address(bench: BenchFile) -> str:
    """Return the database address of a bench: from bench.toml, the environment, or its folder."""
    named = bench.bench.store or os.environ.get(STORE_VARIABLE)
    return named or f"sqlite:///{(bench.folder / STORE_NAME).resolve()}"


def open_store(bench: BenchFile) -> Store:
    """Return the store of a bench, made new if there is none. Raises StoreError."""
    address = store_address(bench)
    # A file of its own needs no name: renaming the bench must not lose what is on record.
    own = address.startswith("sqlite")
    return Store(address, "" if own else bench.bench.name or bench.folder.resolve().name)


class Store:
    """An open store; every method raises StoreError when the database can't do it."""

    def __init__(self, address: str, bench: str) -> None:
        self.address = address
        self.bench = bench
        self._engine = _engine(address)
        self._prepare()

    def close(self) -> None:
        """Give back the connections."""
        self._engine.dispose()

    def frames(self) -> tuple[FrameOnRecord, ...]:
        """Return every file on record, in the order of their paths."""
        query = sa.select(frames).where(frames.c.bench == self.bench).order_by(frames.c.path)
        with self.reading() as connection:
            return tuple(frame_from_row(row) for row in connection.execute(query).mappings())

    def states(self) -> dict[str, tuple[str, int]]:
        """Return state and size in bytes of every file on record, by its path."""
        columns = (frames.c.path, frames.c.state, frames.c.size_bytes)
        with self.reading() as connection:
            rows = connection.execute(sa.select(*columns).where(frames.c.bench == self.bench))
            return {path: (state, size) for path, state, size in rows}

    def spots(self, colours: Sequence[str] = ()) -> dict[str, tuple[Spot, ...]]:
        """Return the spots of all measured frames by path, of the given colours or of all."""
        names = [spots.c[name] for name in SPOT_FIELDS]
        query = (
            sa.select(frames.c.path, *names)
            .join(spots, spots.c.frame_id == frames.c.id)
            .where(frames.c.bench == self.bench, frames.c.state == "measured")
            .order_by(frames.c.path, spots.c.colour)
        )
        if colours:
            query = query.where(spots.c.colour.in_(colours))
        found: dict[str, list[Spot]] = {}
        with self.reading() as connection:
            for path, *values in connection.execute(query):
                found.setdefault(path, []).append(spot_from_values(path, values))
        return {path: tuple(several) for path, several in found.items()}

    def stamps(self, paths: Sequence[str]) -> dict[str, SpotImage]:
        """Return the rebuilt green (or grey) spots by path, for those that have one."""
        query = (
            sa.select(frames.c.path, stamps)
            .join(stamps, stamps.c.frame_id == frames.c.id)
            .where(frames.c.bench == self.bench)
        )
        wanted = set(paths)
        if len(wanted) <= FEW:
            query = query.where(frames.c.path.in_(wanted))
        found = {}
        with self.reading() as connection:
            for row in connection.execute(query).mappings():
                if row["path"] in wanted:
                    light = unpack_light(row["light"], row["rows"], row["columns"])
                    found[row["path"]] = SpotImage(light, row["left_px"], row["top_px"])
        return found

    def keep(self, frame: FrameOnRecord, measured: Measured | None = None) -> None:
        """Put a frame on record with its spots, in place of whatever was there for its path."""

        def write(connection: sa.Connection) -> None:
            connection.execute(sa.delete(frames).where(*self._is(frame.path)))
            done = connection.execute(
                sa.insert(frames).values(bench=self.bench, **frame_row(frame))
            )
            key = done.inserted_primary_key[0] if done.inserted_primary_key else None
            if measured is None:
                return
            rows = [{"frame_id": key, **spot_row(spot)} for spot in measured.spots]
            if rows:
                connection.execute(sa.insert(spots), rows)
            colour = next((c for c in ("green", "grey") if c in measured.images), None)
            if colour is not None:
                image = measured.images[colour]
                connection.execute(
                    sa.insert(stamps).values(frame_id=key, colour=colour, **stamp_row(image))
                )

        self.write(write)

    def change(self, known_as: str, /, **values: Any) -> None:
        """Change columns of a frame on record: path, modified_ns, missing..."""

        def write(connection: sa.Connection) -> None:
            if "path" in values:
                connection.execute(sa.delete(frames).where(*self._is(values["path"])))
            row = {name: plain(value) for name, value in values.items()}
            connection.execute(sa.update(frames).where(*self._is(known_as)).values(**row))

        self.write(write)

    def find(self, subject: str, key: str) -> bytes | None:
        """Return what was kept of a subject under a key, or None."""
        query = sa.select(kept.c.content).where(*self._kept(subject, key))
        with self.reading() as connection:
            content: bytes | None = connection.execute(query).scalar()
        return content

    def contents(self, subject: str) -> tuple[bytes, ...]:
        """Return everything that was kept of a subject, in the order of its keys."""
        query = (
            sa.select(kept.c.content)
            .where(kept.c.bench == self.bench, kept.c.subject == subject)
            .order_by(kept.c.key)
        )
        with self.reading() as connection:
            return tuple(connection.execute(query).scalars())

    def keep_content(self, subject: str, key: str, content: bytes) -> None:
        """Keep content under a subject and a key, in place of what was there."""
        self.write(lambda connection: self.put_content(connection, subject, key, content))

    def put_content(
        self, connection: sa.Connection, subject: str, key: str, content: bytes
    ) -> None:
        """Keep content inside a transaction of the caller."""
        now = datetime.now(UTC).isoformat(timespec="seconds")
        connection.execute(sa.delete(kept).where(*self._kept(subject, key)))
        connection.execute(
            sa.insert(kept).values(
                bench=self.bench, subject=subject, key=key, content=content, kept_at_utc=now
            )
        )

    def _kept(self, subject: str, key: str) -> tuple[sa.ColumnElement[bool], ...]:
        return kept.c.bench == self.bench, kept.c.subject == subject, kept.c.key == key

    def _is(self, path: str) -> tuple[sa.ColumnElement[bool], ...]:
        return frames.c.bench == self.bench, frames.c.path == path

    def _prepare(self) -> None:
        """Make the tables if there are none, and bring an older store up to this schema.

        A store that has it is only read here.
        """
        try:
            with self.reading() as connection:
                found = schema_of(connection)
            if found != SCHEMA:
                self.write(bring_up)
        except NewerSchemaError as error:
            raise StoreError(
                f"{self._label}: made by a newer version of nightglass (schema {error}; this one "
                f"reads up to {SCHEMA}); use that version, or move the store away and measure again"
            ) from None

    @contextmanager
    def reading(self) -> Iterator[sa.Connection]:
        """Give a connection that only reads."""
        with self._faults(), self._engine.connect() as connection:
            yield connection.execution_options(nightglass_reads=True)

    def write(self, write: Callable[[sa.Connection], None]) -> None:
        """Run one transaction, again if another writer came between; all of it or nothing."""
        deadline = time.monotonic() + WAIT_S
        while True:
            try:
                with self._faults(), self._engine.begin() as connection:
                    write(connection)
                return
            except _BusyError:
                if time.monotonic() > deadline:
                    raise StoreError(
                        f"{self._label}: another program has been writing for {WAIT_S:.0f} s; "
                        "close it and run measure again"
                    ) from None
                time.sleep(0.05)

    @contextmanager
    def _faults(self) -> Iterator[None]:
        """Turn the database's own errors into one line."""
        try:
            yield
        except SQLAlchemyError as error:
            words = str(getattr(error, "orig", None) or error).splitlines()[0]
            if isinstance(error, OperationalError) and ("locked" in words or "busy" in words):
                raise _BusyError(words) from error
            raise StoreError(f"{self._label}: {_cause(words, error)}") from error

    @property
    def _label(self) -> str:
        url = self._engine.url
        if url.database and url.get_backend_name() == "sqlite":
            return Path(url.database).name
        return url.render_as_string(hide_password=True)


class _BusyError(Exception):
    """Another writer holds the database; the transaction may be tried again."""


def _cause(words: str, error: SQLAlchemyError) -> str:
    if "full" in words:
        return (
            "the disk is full; what is stored stays: make room, then run measure again and it "
            "goes on where it stopped"
        )
    if "readonly" in words or "unable to open" in words or "read-only" in words:
        return (
            "can't be written; change the permissions of the bench folder, or copy it to where "
            "you may write"
        )
    if isinstance(error, DatabaseError) and ("not a database" in words or "malformed" in words):
        return (
            f"damaged ({words}); move it away and run measure again: everything in it comes from "
            "the frames"
        )
    return f"the database says: {words}; check its address and that it runs"


def _engine(address: str) -> sa.Engine:
    try:
        engine = sa.create_engine(address, pool_pre_ping=not address.startswith("sqlite"))
    except (SQLAlchemyError, ModuleNotFoundError) as error:
        raise StoreError(
            f'store = "{address}": not a database address that can be used here ({error}); '
            "leave it out for bench.sqlite"
        ) from None
    if engine.dialect.name == "sqlite":
        sa.event.listen(engine, "connect", _sqlite_connect)
        sa.event.listen(engine, "begin", _sqlite_begin)
    return engine


def _sqlite_connect(connection: Any, _record: Any) -> None:
    # The driver must not begin transactions by itself: a read that turns into a write fails at
    # once when another writer came between, whatever the timeout.
    connection.isolation_level = None
    connection.execute("PRAGMA busy_timeout = 10000")
    connection.execute("PRAGMA foreign_keys = ON")
    # Every commit must outlive a power cut; WAL would be quicker but fails on network drives.
    connection.execute("PRAGMA synchronous = FULL")


def _sqlite_begin(connection: sa.Connection) -> None:
    reads = connection.get_execution_options().get("nightglass_reads", False)
    connection.exec_driver_sql("BEGIN" if reads else "BEGIN IMMEDIATE")
