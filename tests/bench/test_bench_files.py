"""Which files of a folder are read, and when one counts as unchanged."""

from __future__ import annotations

import os

import pytest
from bench_fakes import fake_file

from nightglass.bench.files import files_of, find_files


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes on this system")
def test_a_named_pipe_is_passed_over_with_a_word(bench, measure):
    fake_file(bench / "frames/a.dng")
    os.mkfifo(bench / "frames/pipe.dng")
    report = measure()
    assert report.measured == ("a.dng",)
    assert report.refused == (("pipe.dng", "a named pipe, passed over; only plain files are read"),)


@pytest.mark.skipif(os.name != "posix", reason="names are text elsewhere")
def test_a_name_that_is_no_utf8_is_named_and_the_others_go_on(bench, measure):
    fake_file(bench / "frames/a.dng")
    odd = os.path.join(os.fsencode(bench / "frames"), b"caf\xe9.dng")
    os.rename(fake_file(bench / "frames/b.dng"), odd)
    report = measure()
    assert report.measured == ("a.dng",)
    assert report.refused == (("caf\\xe9.dng", "its name is not UTF-8, passed over; rename it"),)
    # Loose frames need no database: the file itself is opened.
    assert os.fsdecode(odd) in [str(path) for path in files_of([bench / "frames"])]
    assert find_files(bench / "frames").files[0].path == "a.dng"


def change_unseen(path, length):
    """Write another frame of the same size, and give it the old time."""
    status = path.stat()
    fake_file(path, length=length)
    assert path.stat().st_size == status.st_size
    os.utime(path, ns=(status.st_atime_ns, status.st_mtime_ns))


def test_check_finds_a_change_that_size_and_time_hide(bench, measure):
    """Sizes and times can be equal: after a copy with kept times, or on a coarse clock."""
    path = bench / "frames/a.dng"
    fake_file(path, length=6.1)
    fake_file(bench / "frames/b.dng", length=5.1)
    assert measure().measured == ("a.dng", "b.dng")
    change_unseen(path, 6.4)
    assert measure().unchanged == 2
    report = measure(check=True)
    assert (report.measured, report.unchanged) == (("a.dng",), 1)
    assert measure(check=True).unchanged == 2


def test_touched_file_is_compared_by_content(bench, measure):
    path = bench / "frames/a.dng"
    fake_file(path)
    measure()
    os.utime(path, ns=(1, 1))
    assert measure().unchanged == 1
