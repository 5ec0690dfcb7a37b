"""The run over the frames of the sky: each failure has its code and what the failing step said."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import bench_fakes
import numpy as np
import pytest

import nightglass.proof.frame_run as run
from nightglass.bench.beside import FileBeside
from nightglass.bench.kept import Keeper
from nightglass.gear.bag import read_bench_file
from nightglass.proof.codes import FrameReasonCode
from nightglass.proof.frames import MeasuredBench
from nightglass.proof.reasons import FrameReason
from nightglass.show.proof.reasons import frame_reason_words

NOTHING_KEPT = Keeper(None, run.KIND, print)


@pytest.fixture
def folder(tmp_path, monkeypatch):
    (tmp_path / "bench.toml").write_text(bench_fakes.BENCH_TOML, encoding="utf-8")
    monkeypatch.setattr(run, "open_frame", lambda path: bench_fakes.open_fake(str(path)))
    return tmp_path


def bench(folder: Path) -> MeasuredBench:
    return MeasuredBench((), read_bench_file(folder))


def sky_file(folder: Path, name: str, **said: object) -> FileBeside:
    return FileBeside(f"sky/{name}", bench_fakes.fake_file(folder / "sky" / name, **said))


def refused(*_):
    raise ValueError("the samples are all\n  equal")


def test_every_failure_has_its_code_and_every_file_its_place(folder, monkeypatch):
    monkeypatch.setattr(run, "observe", refused)
    (folder / "sky").mkdir()
    (folder / "sky" / "b.raw").write_bytes(b"\xff")
    files = [
        FileBeside("sky/a.raw", folder / "sky/a.raw", "Permission denied"),
        FileBeside("sky/b.raw", folder / "sky/b.raw"),
        sky_file(folder, "c.raw", lens="Crake"),
        sky_file(folder, "d.raw"),
    ]
    steps = []
    frames = run.sky_frames(files, bench(folder), NOTHING_KEPT, steps.append)
    assert [frame.file for frame in frames] == [file.name for file in files]
    assert steps == [0, 1, 2, 3, 4]
    assert [frame.reason.code for frame in frames] == [
        FrameReasonCode.UNREADABLE,
        FrameReasonCode.NOT_DECODED,
        FrameReasonCode.NOT_ASSIGNED,
        FrameReasonCode.NOT_MEASURED,
    ]
    assert frames[0].reason.error == "Permission denied"
    assert "not a picture" in frames[1].reason.error
    assert 'the lens "Crake" is not in the bag' in frames[2].reason.error
    # What the failing step said stands in one line, and the setting is kept where it is known.
    assert frames[3].reason.error == "the samples are all equal"
    assert (frames[2].setting, frames[3].setting.lens) == (None, "Wren")


def test_a_developed_picture_is_not_held_against_the_bench(folder, monkeypatch):
    file = sky_file(folder, "a.raw")
    plane = bench_fakes.open_fake(str(file.path))
    picture = replace(plane, samples=np.repeat(plane.samples[..., None], 3, axis=2))
    monkeypatch.setattr(run, "open_frame", lambda path: picture)
    frame = run.frame_of(file, bench(folder))
    assert frame.reason == FrameReason(FrameReasonCode.DEVELOPED)
    assert frame.setting.lens == "Wren"
    assert "give the raw file of this frame" in frame_reason_words(frame.reason)


def test_an_error_of_the_disk_says_the_file_and_what_to_check(folder, monkeypatch):
    def full(path):
        raise OSError(5, "Input/output error", str(path))

    monkeypatch.setattr(run, "open_frame", full)
    file = sky_file(folder, "a.raw")
    reason = run.frame_of(file, bench(folder)).reason
    assert reason == FrameReason(FrameReasonCode.DISK_ERROR, f"{file.path}: input/output error")
    assert frame_reason_words(reason) == (
        f"{file.path}: input/output error; check the name, its permissions and the disk"
    )


def test_a_bench_without_a_site_has_no_place_and_one_with_a_site_has_it(folder):
    assert run.measured_bench(read_bench_file(folder)).place is None
    toml = folder / "bench.toml"
    site = '[site]\nplace = "31.5 S 20.8 E"\nzone = "UTC+2"\n'
    toml.write_text(site + bench_fakes.BENCH_TOML, encoding="utf-8")
    place = run.measured_bench(read_bench_file(folder)).place
    assert (place.latitude_degrees, place.longitude_degrees) == pytest.approx((-31.5, 20.8))
