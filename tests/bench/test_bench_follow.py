"""Files measured as they land: whole ones at once, growing ones when they are whole."""

import os
import time

import pytest
from bench_fakes import MEASURER, OPENER, fake_file

from nightglass.bench.errors import BenchError
from nightglass.bench.measuring.follow import Follower
from nightglass.bench.store.store import open_store
from nightglass.gear.bag import read_bench_file

SETTLE_S = 0.1


@pytest.fixture
def follow(bench):
    """A follower of the bench that settles quickly, and its store."""
    file = read_bench_file(bench)
    store = open_store(file)
    with Follower(store, file, measurer=MEASURER, opener=OPENER, settle_s=SETTLE_S) as follower:
        yield follower, store
    store.close()


def landed(follower, seconds=10.0, least=1):
    """Look until so many files landed; the names in their order."""
    found, until = [], time.monotonic() + seconds
    while len(found) < least and time.monotonic() < until:
        found += [one.path for one in follower.landed()]
        time.sleep(0.02)
    return found


def test_a_new_file_is_measured_and_on_record(bench, follow):
    follower, store = follow
    fake_file(bench / "frames" / "evening" / "a.dng")
    assert landed(follower) == ["evening/a.dng"]
    (frame,) = store.frames()
    assert (frame.path, frame.state) == ("evening/a.dng", "measured")
    assert landed(follower, seconds=0.3) == []


def test_what_is_on_record_is_left_alone_and_what_is_not_is_new(bench, measure):
    fake_file(bench / "frames" / "old.dng")
    measure()
    fake_file(bench / "frames" / "between.dng")
    file = read_bench_file(bench)
    store = open_store(file)
    with Follower(store, file, measurer=MEASURER, opener=OPENER, settle_s=SETTLE_S) as follower:
        fake_file(bench / "frames" / "new.dng")
        assert sorted(landed(follower, least=2)) == ["between.dng", "new.dng"]
        assert landed(follower, seconds=0.3) == []
    store.close()


def test_a_growing_file_waits_until_it_is_whole(bench, follow):
    follower, store = follow
    whole = fake_file(bench / "whole.txt").read_text("utf-8")
    target = bench / "frames" / "a.dng"
    for end in range(20, len(whole), 20):
        target.write_text(whole[:end], "utf-8")
        assert not list(follower.landed())
        assert follower.growing() == ("a.dng",)
        time.sleep(0.02)
    target.write_text(whole, "utf-8")
    assert landed(follower) == ["a.dng"]
    assert follower.growing() == ()
    assert store.frames()[0].state == "measured"


def test_a_copy_that_paused_is_measured_again_when_it_goes_on(bench, follow):
    follower, store = follow
    whole = fake_file(bench / "whole.txt").read_text("utf-8")
    target = bench / "frames" / "a.dng"
    target.write_text(whole[:31], "utf-8")
    assert landed(follower) == ["a.dng"]
    assert store.frames()[0].state == "refused"
    target.write_text(whole, "utf-8")
    assert landed(follower) == ["a.dng"]
    assert [frame.state for frame in store.frames()] == ["measured"]


def test_a_copy_of_a_frame_on_record_is_told_from_it(bench, follow):
    follower, store = follow
    first = fake_file(bench / "frames" / "a.dng")
    assert landed(follower) == ["a.dng"]
    (bench / "frames" / "b.dng").write_bytes(first.read_bytes())
    assert landed(follower) == ["b.dng"]
    assert {f.path: f.state for f in store.frames()} == {"a.dng": "measured", "b.dng": "duplicate"}


def test_files_that_vanish_or_are_empty_are_no_frames(bench, follow):
    follower, store = follow
    (bench / "frames" / "empty.dng").touch()
    going = fake_file(bench / "frames" / "going.dng")
    list(follower.landed())
    os.remove(going)
    assert landed(follower, seconds=0.4) == []
    assert store.frames() == ()


def test_a_frame_that_breaks_the_reader_costs_only_itself(bench, follow):
    follower, store = follow
    fake_file(bench / "frames" / "bad.dng", dies=True)
    assert landed(follower, seconds=20) == ["bad.dng"]
    fake_file(bench / "frames" / "good.dng")
    assert landed(follower, seconds=20) == ["good.dng"]
    assert [frame.state for frame in store.frames()] == ["refused", "measured"]


def test_folder_that_is_missing(bench):
    (bench / "frames").rmdir()
    file = read_bench_file(bench)
    store = open_store(file)
    with pytest.raises(BenchError, match=r"frames: no such folder; make it, or name another bench"):
        Follower(store, file)
    store.close()
