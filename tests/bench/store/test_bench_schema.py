"""The store's schema: an older store keeps everything, a newer one is refused, nothing half-way."""

import sqlite3
from pathlib import Path

import pytest
import sqlalchemy as sa

from nightglass.bench.errors import StoreError
from nightglass.bench.store import schema
from nightglass.bench.store.schema import COLUMNS_STAMP, SCHEMA, columns_stamp
from nightglass.bench.store.store import Store
from nightglass.bench.store.tables import tables

DATA = Path(__file__).parents[2] / "data" / "store"
ROWS = """
insert into nightglass_about values ('schema', 'a238486d');
insert into nightglass_frames (id, bench, path, content_hash, fingerprint, size_bytes, modified_ns,
  state, try_again, missing, metadata_notes, notes, measured_at_utc)
  values (7, '', 'a.dng', 'h', 'f', 24, 5, 'measured', 0, 0, '[]', '[]', '2027-05-06T21:00:00');
insert into nightglass_spots (frame_id, colour, x_px, length_px, clipping_from, flags)
  values (7, 'green', 10.5, 6.25, 'file', '[]');
"""


@pytest.fixture
def old(tmp_path):
    """A store of schema 1, as its tables were, with one frame on record."""
    path = tmp_path / "bench.sqlite"
    with sqlite3.connect(path) as connection:
        connection.executescript((DATA / "schema_1.sql").read_text("utf-8") + ROWS)
    return path


def columns(path):
    engine = sa.create_engine(f"sqlite:///{path}")
    look = sa.inspect(engine)
    return {
        table: [(c["name"], str(c["type"]), c["nullable"]) for c in look.get_columns(table)]
        for table in sorted(look.get_table_names())
    }


def test_an_older_store_is_brought_up_and_keeps_what_was_measured(old, tmp_path):
    store = Store(f"sqlite:///{old}", "")
    frame = store.frames()[0]
    assert (frame.path, frame.size_bytes, frame.content_hash) == ("a.dng", 24, "h")
    spot = store.spots()["a.dng"][0]
    assert (spot.x_px, spot.length_px) == (10.5, 6.25)
    with sqlite3.connect(old) as connection:
        rows = connection.execute("select value from nightglass_about").fetchall()
    assert rows == [(str(SCHEMA),)]
    Store(f"sqlite:///{tmp_path}/new.sqlite", "")
    assert columns(old) == columns(tmp_path / "new.sqlite")


def test_an_up_to_date_store_is_only_read(old, monkeypatch):
    Store(f"sqlite:///{old}", "").close()
    monkeypatch.setattr(Store, "write", lambda *_: pytest.fail("written"))
    assert Store(f"sqlite:///{old}", "").frames()


@pytest.mark.parametrize(("value", "named"), [("99", "99"), ("beef01", "beef01")])
def test_a_newer_store_is_refused_in_one_line(old, value, named):
    with sqlite3.connect(old) as connection:
        connection.execute("update nightglass_about set value = ?", (value,))
    with pytest.raises(StoreError) as refused:
        Store(f"sqlite:///{old}", "")
    assert str(refused.value) == (
        f"bench.sqlite: made by a newer version of nightglass (schema {named}; this one reads up "
        f"to {SCHEMA}); use that version, or move the store away and measure again"
    )


def test_a_step_that_breaks_half_way_leaves_the_old_store_whole(old, monkeypatch):
    def breaks(connection):
        connection.execute(sa.text("alter table nightglass_frames add column extra text"))
        raise KeyboardInterrupt

    before = columns(old)
    monkeypatch.setattr(schema, "STEPS", (breaks,))
    with pytest.raises(KeyboardInterrupt):
        Store(f"sqlite:///{old}", "")
    assert columns(old) == before
    monkeypatch.undo()
    assert len(Store(f"sqlite:///{old}", "").frames()) == 1


def test_columns_do_not_change_without_a_step():
    assert columns_stamp() == COLUMNS_STAMP, (
        "a column of the store has changed: add a step to STEPS in bench/store/schema.py that adds "
        f"it to older stores, then set COLUMNS_STAMP to {columns_stamp()!r}"
    )


def test_every_table_is_made(tmp_path):
    Store(f"sqlite:///{tmp_path}/new.sqlite", "")
    assert set(columns(tmp_path / "new.sqlite")) == set(tables.tables)
