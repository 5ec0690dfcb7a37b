"""The seam for studies: a new kind is a file with its records and its table, and one line."""

import dataclasses
import sqlite3
from dataclasses import dataclass

import numpy as np
import pytest
import sqlalchemy as sa
from bench_fakes import fake_file

from nightglass.bench.combined.sightings import sightings_on_record
from nightglass.bench.store.packing import LayoutError
from nightglass.bench.store.store import open_store
from nightglass.bench.study import listed
from nightglass.bench.study.repeats import REPEATS, setting_results
from nightglass.bench.study.study import Study, results_of, study_table
from nightglass.gear.bag import read_bench_file


# What the file of a new study holds: its records, its arithmetic, its table.
@dataclass(frozen=True)
class FramesOfLens:
    lens: str
    frames: int


def count_frames(store, bench):
    lenses = [s.belongs.setting.lens for s in sightings_on_record(store, bench)]
    return tuple(FramesOfLens(lens, lenses.count(lens)) for lens in sorted(set(lenses)))


COUNT = Study(
    name="count",
    work_out=count_frames,
    table=study_table("count", sa.Column("lens", sa.Text), sa.Column("frames", sa.Integer)),
    to_row=dataclasses.asdict,
    from_row=lambda row: FramesOfLens(row["lens"], row["frames"]),
)


@pytest.fixture
def counted(monkeypatch):
    """The one line in the list; returns how often the study was worked out."""
    calls = []

    def work_out(store, bench):
        calls.append(1)
        return count_frames(store, bench)

    study = dataclasses.replace(COUNT, work_out=work_out)
    monkeypatch.setattr(listed, "STUDIES", (*listed.STUDIES, study))
    return study, calls


def read_back(study, folder):
    bench = read_bench_file(folder)
    store = open_store(bench)
    try:
        return results_of(study, store, bench)
    finally:
        store.close()


def test_a_new_study_has_its_table_and_its_results_come_back(bench, measure, counted):
    study, calls = counted
    for k in range(3):
        fake_file(bench / "frames" / f"{k}.dng")
    measure()
    with sqlite3.connect(bench / "bench.sqlite") as connection:
        rows = connection.execute("select lens, frames from nightglass_study_count").fetchall()
    assert rows == [("Wren", 3)]
    assert read_back(study, bench) == (FramesOfLens("Wren", 3),)
    assert len(calls) == 1


def test_results_are_worked_out_anew_when_anything_behind_them_changes(bench, measure, counted):
    study, calls = counted
    for k in range(3):
        fake_file(bench / "frames" / f"{k}.dng")
    measure()
    text = (bench / "bench.toml").read_text("utf-8")
    leave_out = '\n[[frames]]\nmatch = "2.dng"\nleave_out = "door opened"\n'
    (bench / "bench.toml").write_text(text + leave_out, "utf-8")
    assert read_back(study, bench) == (FramesOfLens("Wren", 2),)
    # A command that only reads has written nothing.
    with sqlite3.connect(bench / "bench.sqlite") as connection:
        assert connection.execute("select frames from nightglass_study_count").fetchall() == [(3,)]
    fake_file(bench / "frames" / "3.dng")
    measure()
    calls.clear()
    assert read_back(study, bench) == (FramesOfLens("Wren", 3),)
    assert not calls


def test_no_results_are_results_too(bench, measure, counted):
    study, calls = counted
    fake_file(bench / "frames" / "0.dng", lens="Stranger")
    measure()
    assert read_back(study, bench) == ()
    assert len(calls) == 1


def test_a_table_with_other_columns_is_made_again(bench, measure, counted, monkeypatch):
    study, _ = counted
    fake_file(bench / "frames" / "0.dng")
    measure()
    table = study_table(
        "count", *(sa.Column(n, sa.Text) for n in ("lens", "frames")), sa.Column("new", sa.Text)
    )
    later = dataclasses.replace(
        study, table=table, to_row=lambda r: {**dataclasses.asdict(r), "new": "n"}
    )
    assert read_back(later, bench) == (FramesOfLens("Wren", 1),)
    monkeypatch.setattr(listed, "STUDIES", (*listed.STUDIES[:-1], later))
    measure()
    with sqlite3.connect(bench / "bench.sqlite") as connection:
        assert connection.execute("select new from nightglass_study_count").fetchall() == [("n",)]


def test_a_row_that_cannot_be_read_is_worked_out_again(bench, measure, counted):
    study, _ = counted
    fake_file(bench / "frames" / "0.dng")
    measure()

    def refuse(row):
        raise LayoutError("other fields now")

    assert read_back(dataclasses.replace(study, from_row=refuse), bench) == (
        FramesOfLens("Wren", 1),
    )


def test_repeats_read_back_are_those_worked_out(bench, measure):
    for k in range(4):
        fake_file(bench / "frames" / f"{k}.dng")
    measure()
    file = read_bench_file(bench)
    store = open_store(file)
    worked_out = setting_results(store, file)
    read = results_of(dataclasses.replace(REPEATS, work_out=pytest.fail), store, file)
    store.close()
    assert len(read) == len(worked_out) == 1
    for one, other in zip(read[0].zones, worked_out[0].zones, strict=True):
        np.testing.assert_array_equal(one.stamp, other.stamp)
        assert dataclasses.replace(one, stamp=None) == dataclasses.replace(other, stamp=None)
