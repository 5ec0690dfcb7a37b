"""The store: plain values, all or nothing, two writers, faults in one line."""

import dataclasses
import os
import sqlite3
import subprocess
import sys
import tempfile
import textwrap
from datetime import datetime, timedelta, timezone

import numpy as np
import pytest
import sqlalchemy as sa

from nightglass.bench.errors import StoreError
from nightglass.bench.store.rows import FrameOnRecord
from nightglass.bench.store.store import STORE_VARIABLE, Store, store_address
from nightglass.frame.record import Metadata
from nightglass.gear.bag import parse_bench
from nightglass.spot.record import Measured, Spot, SpotImage

TAKEN = datetime(2027, 5, 6, 23, 30, tzinfo=timezone(timedelta(hours=2)))
FRAME = FrameOnRecord(
    path="a b/空é.dng",
    content_hash="h",
    fingerprint="f",
    size_bytes=np.int64(24_000_000_000),
    modified_ns=1_790_000_000_123_456_789,
    state="measured",
    near_px=(10.5, 20.25),
    kind="mosaic",
    width_px=3872,
    height_px=2592,
    metadata=Metadata(
        body="Loan body", lens="Wren", focal_mm=12.0, f_number=2.8, iso=800, taken_at=TAKEN,
        zone_known=True, exposure_true_s=0.5, notes=("a", "b"),
    ),
    notes=("black not in the file",),
    levels={"black": [256.0], "values": [[[4095.0, 60]]]},
)  # fmt: skip
GREEN = Spot(
    "a b/空é.dng", "green", x_px=np.float32(1.5), y_px=2.0, length_px=6.5, width_px=float("nan"),
    core_parts=np.int64(2), flags=("faint", "round"),
)  # fmt: skip
LIGHT = np.arange(35, dtype=np.float32).reshape(5, 7)


@pytest.fixture
def store(tmp_path):
    opened = Store(f"sqlite:///{tmp_path}/bench.sqlite", "")
    yield opened
    opened.close()


def test_frame_spots_and_stamp_come_back(store):
    store.keep(FRAME, Measured((GREEN,), {"green": SpotImage(LIGHT, 100, 200)}))
    (frame,) = store.frames()
    assert frame == FRAME
    assert frame.metadata.taken_at.utcoffset() == timedelta(hours=2)
    assert store.spots() == {FRAME.path: (dataclasses.replace(GREEN, width_px=None),)}
    image = store.stamps([FRAME.path])[FRAME.path]
    np.testing.assert_array_equal(image.light, LIGHT)
    assert (image.left_px, image.top_px) == (100, 200)


def test_every_field_of_a_spot_is_stored(store):
    values = {
        f.name: ({"file": FRAME.path, "colour": "green", "clipping_from": "data"}.get(f.name, 0.5))
        for f in dataclasses.fields(Spot)
    }
    spot = Spot(**{**values, "core_parts": 3, "flags": ("round",)})
    store.keep(FRAME, Measured((spot,), {}))
    assert store.spots() == {FRAME.path: (spot,)}


def test_numpy_scalars_are_numbers_in_the_file_and_nan_is_null(store, tmp_path):
    store.keep(FRAME, Measured((GREEN,), {}))
    query = """select typeof(size_bytes), typeof(x_px), typeof(core_parts), typeof(s.width_px)
               from nightglass_frames join nightglass_spots s on frame_id = id"""
    with sqlite3.connect(tmp_path / "bench.sqlite") as connection:
        assert connection.execute(query).fetchone() == ("integer", "real", "integer", "null")


def test_keeping_a_path_again_replaces_it_with_all_that_belonged_to_it(store, tmp_path):
    store.keep(FRAME, Measured((GREEN,), {"green": SpotImage(LIGHT, 0, 0)}))
    refused = dataclasses.replace(FRAME, state="refused", reason="no star stands out")
    store.keep(refused)
    assert store.frames() == (refused,)
    with sqlite3.connect(tmp_path / "bench.sqlite") as connection:
        for table in ("nightglass_spots", "nightglass_stamps"):
            assert connection.execute(f"select count(*) from {table}").fetchone() == (0,)


def test_a_transaction_that_fails_half_way_leaves_nothing(store):
    store.keep(FRAME)
    twice = Measured((GREEN, GREEN), {})
    with pytest.raises(StoreError, match=r"bench\.sqlite: the database says: UNIQUE"):
        store.keep(dataclasses.replace(FRAME, path="other.dng"), twice)
    assert [frame.path for frame in store.frames()] == [FRAME.path]


def test_moved_frame_keeps_its_spots(store):
    store.keep(FRAME, Measured((GREEN,), {}))
    store.change(FRAME.path, path="new.dng", missing=False)
    assert list(store.spots()) == ["new.dng"]


WRITER = """
import dataclasses, sys
from nightglass.bench.store.store import Store
from test_bench_store import FRAME, GREEN
from nightglass.spot.record import Measured
store = Store(sys.argv[1], "")
for k in range(200):
    store.stamps(["x"])
    store.keep(dataclasses.replace(FRAME, path=f"{sys.argv[2]} {k}"), Measured((GREEN,), {}))
"""


@pytest.fixture
def in_memory_folder():
    """A folder whose writes cost no disk: hundreds of safe commits take seconds on a slow one."""
    memory = "/dev/shm" if os.access("/dev/shm", os.W_OK) else None
    with tempfile.TemporaryDirectory(dir=memory) as folder:
        yield folder


def test_two_programs_write_at_once_and_nothing_is_lost(in_memory_folder):
    store = Store(f"sqlite:///{in_memory_folder}/bench.sqlite", "")
    here = os.path.dirname(__file__)
    writers = [
        subprocess.Popen(
            [sys.executable, "-c", textwrap.dedent(WRITER), store.address, name],
            env={**os.environ, "PYTHONPATH": os.pathsep.join([here, *sys.path])},
        )
        for name in ("a", "b")
    ]
    assert [writer.wait(60) for writer in writers] == [0, 0]
    assert len(store.frames()) == 400
    assert len(store.spots()) == 400


def test_reading_then_writing_waits_for_the_other_writer(store, tmp_path):
    # A transaction that begins with a read fails at once when another has written meanwhile;
    # ours take the right to write at their beginning and try again.
    other = sqlite3.connect(tmp_path / "bench.sqlite", isolation_level=None, timeout=0)
    store.stamps(["x"])
    other.execute("begin immediate")
    other.execute("insert into nightglass_about values ('x', 'y')")
    other.execute("commit")
    store.keep(FRAME)
    assert len(store.frames()) == 1


def test_full_disk_is_one_line_and_what_is_stored_stays(store):
    store.keep(FRAME)

    def limit(connection, _record):
        # SQLite's own limit gives the same error as a disk without room.
        pages = connection.execute("pragma page_count").fetchone()[0]
        connection.execute(f"pragma max_page_count = {pages + 1}")

    store.close()
    sa.event.listen(store._engine, "connect", limit)
    big = SpotImage(np.random.default_rng(3).normal(size=(200, 200)).astype(np.float32), 0, 0)
    with pytest.raises(StoreError) as caught:
        store.keep(dataclasses.replace(FRAME, path="b.dng"), Measured((GREEN,), {"green": big}))
    assert str(caught.value) == (
        "bench.sqlite: the disk is full; what is stored stays: make room, then run measure again "
        "and it goes on where it stopped"
    )
    assert store.frames() == (FRAME,)


def test_damaged_file_says_what_to_do(tmp_path):
    (tmp_path / "bench.sqlite").write_bytes(b"no database at all, but long enough" * 100)
    with pytest.raises(StoreError, match=r"bench\.sqlite: damaged .*move it away and run measure"):
        Store(f"sqlite:///{tmp_path}/bench.sqlite", "")


def test_folder_that_can_not_be_written(tmp_path, request):
    tmp_path.chmod(0o555)
    if os.geteuid() == 0:
        # The superuser may write anywhere: be somebody else meanwhile.
        for folder in (tmp_path, *tmp_path.parents[:3]):
            if folder != folder.parent and folder.owner() == "root" and folder != tmp_path:
                folder.chmod(folder.stat().st_mode | 0o055)
        os.seteuid(65534)
        request.addfinalizer(lambda: os.seteuid(0))
    with pytest.raises(
        StoreError, match=r"bench\.sqlite: can't be written; change the permissions"
    ):
        Store(f"sqlite:///{tmp_path}/bench.sqlite", "")


BENCH = """[body]
name = "b"
pitch_um = 5
width_px = 300
height_px = 200
[[lens]]
name = "Wren"
focal_mm = 12
f_number = 2
"""


def test_address_comes_from_bench_file_then_environment_then_folder(tmp_path, monkeypatch):
    monkeypatch.delenv(STORE_VARIABLE, raising=False)
    bench = parse_bench(BENCH, tmp_path / "bench.toml")
    assert store_address(bench) == f"sqlite:///{tmp_path.resolve()}/bench.sqlite"
    monkeypatch.setenv(STORE_VARIABLE, "postgresql://club/bench")
    assert store_address(bench) == "postgresql://club/bench"
    named = parse_bench(BENCH + '[bench]\nstore = "sqlite:////data/x.sqlite"\n')
    assert store_address(named) == "sqlite:////data/x.sqlite"


def test_address_that_is_none_says_so():
    with pytest.raises(StoreError, match='store = "over there": not a database address'):
        Store("over there", "")


def test_benches_share_a_database_without_mixing(tmp_path):
    address = f"sqlite:///{tmp_path}/club.sqlite"
    one, two = Store(address, "one"), Store(address, "two")
    one.keep(FRAME)
    two.keep(dataclasses.replace(FRAME, content_hash="other"))
    assert [f.content_hash for f in one.frames() + two.frames()] == ["h", "other"]


def test_tables_can_be_made_in_postgresql():
    # Compiled only: no server is asked for here.
    from sqlalchemy.dialects import postgresql
    from sqlalchemy.schema import CreateTable

    from nightglass.bench.store.tables import tables

    made = [str(CreateTable(t).compile(dialect=postgresql.dialect())) for t in tables.sorted_tables]
    assert any("id SERIAL NOT NULL" in words for words in made)
    assert any("light BYTEA NOT NULL" in words for words in made)
