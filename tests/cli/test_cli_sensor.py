"""nightglass sensor at the door: a bench folder, loose frames, bad input, plain data."""

from __future__ import annotations

import json
import re

import pytest
from sensor_frames import Roll, chip

from nightglass.cli.main import run
from nightglass.gear.bag import read_bench_file
from nightglass.scene.flats import DARK

TOML = """\
[body]
name = "Test body"
pitch_um = 6
width_px = 288
height_px = 192
{more}
[[lens]]
name = "Wren 12 mm f/2"
focal_mm = 12
f_number = 2
"""


@pytest.fixture(scope="module")
def frames(tmp_path_factory):
    """Two ISO steps of a small sensor, as raw files."""
    folder = tmp_path_factory.mktemp("frames")
    for number, (iso, noise) in enumerate(((400, 3.0), (800, 1.6))):
        roll = Roll(chip(1.2 * 400 / iso, noise), iso, seed=iso)
        roll.bias().flats((0.5, 0.2, 0.07, 0.02))
        roll.take(DARK, 30.0)
        roll.take(DARK, 30.0)
        for one in roll.frames:
            object.__setattr__(one, "file", f"{number}_{one.file}")
        roll.write(folder)
    return folder


@pytest.fixture
def bench(tmp_path, frames):
    (tmp_path / "bench.toml").write_text(TOML.format(more=""), encoding="utf-8")
    (tmp_path / "sensor").symlink_to(frames)
    return tmp_path


def test_a_bench_is_measured_and_kept_beside_what_was_typed(bench, capsys):
    (bench / "bench.toml").write_text(TOML.format(more="read_noise_e = { 800 = 2.5 }"))
    assert run(["sensor", str(bench), "--temperature", "9"]) == 0
    text = capsys.readouterr().out
    assert "Taken for ISO 400: 2 bias, 8 evenly lit, 2 dark (32 s)" in text
    assert re.search(r"bench.toml says read_noise_e = 2.5 at ISO 800, measured 1\.[56]", text)
    assert f"written: {bench / 'sensor.json'}" in text
    assert (bench / "out" / "sensor_noise.png").is_file()
    body = read_bench_file(bench).body
    assert body.read_noise_e[800] == 2.5
    assert body.read_noise_e[400] == pytest.approx(3.0, rel=0.05)
    assert body.gain_e_per_count[800] == pytest.approx(0.6, rel=0.05)
    assert json.loads((bench / "sensor.json").read_text())["temperature_c"] == 9.0


def test_plain_data(bench, capsys):
    assert run(["sensor", str(bench), "--json", "--no-charts"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert [one["iso"] for one in data["isos"]] == [400, 800]
    assert data["taken"][0] == {
        "file": "0_000.dng", "role": "bias", "iso": 400, "exposure_s": pytest.approx(1 / 4096),
        "level_percent": pytest.approx(0, abs=0.1), "reason": None, "values": {},
    }  # fmt: skip
    assert data["written"] == [str(bench / "sensor.json")]
    assert not (bench / "out").exists()


def test_loose_frames_are_told_and_kept_nowhere(frames, capsys):
    before = sorted(path.name for path in frames.iterdir())
    assert run(["sensor", str(frames)]) == 0
    text = capsys.readouterr().out
    assert "Nothing was kept: there is no bench.toml here" in text
    assert "with the least noise at ISO 800" in text
    assert sorted(path.name for path in frames.iterdir()) == before


def test_named_frames_are_taken_in_place_of_the_folder(bench, frames, capsys):
    named = [str(frames / f"0_{k:03d}.dng") for k in range(10)]
    assert run(["sensor", str(bench), *named, "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert [one["iso"] for one in data["isos"]] == [400]


def test_frames_that_tell_nothing_fail_with_the_reasons(tmp_path, frames, capsys):
    (tmp_path / "bench.toml").write_text(TOML.format(more=""), encoding="utf-8")
    (tmp_path / "sensor").mkdir()
    (tmp_path / "sensor" / "notes.dng").write_bytes(b"no picture")
    assert run(["sensor", str(tmp_path)]) == 1
    text = capsys.readouterr().out
    assert "could not be measured" in text
    assert "notes.dng: " in text
    assert "Next: take the frames that are missing" in text
    assert not (tmp_path / "sensor.json").exists()


@pytest.mark.parametrize(
    ("made", "words"),
    [
        (False, "no such folder; make it and copy raw frames with the cap on"),
        (True, "no files in it; copy raw frames with the cap on"),
    ],
)
def test_a_bench_without_frames_says_what_to_copy(tmp_path, capsys, made, words):
    (tmp_path / "bench.toml").write_text(TOML.format(more=""), encoding="utf-8")
    if made:
        (tmp_path / "sensor").mkdir()
    assert run(["sensor", str(tmp_path)]) == 1
    assert f"{tmp_path / 'sensor'}: {words}" in capsys.readouterr().err


def test_a_name_that_is_not_there(tmp_path, capsys):
    assert run(["sensor", str(tmp_path), str(tmp_path / "gone")]) == 1
    assert f"{tmp_path / 'gone'}: no such file or folder; check the name" in capsys.readouterr().err


def test_one_demo_at_a_time(capsys):
    assert run(["demo", "--sky", "--sensor"]) == 2
    assert "ask for one at a time" in capsys.readouterr().err
    assert run(["demo", "--flats", "--focus", "--sky"]) == 2
    assert "--sky and --focus and --flats are three demos: ask for" in capsys.readouterr().err
    assert run(["demo", "--focus", "--sky"]) == 2
    assert "--sky and --focus are two demos: ask for one at a time" in capsys.readouterr().err
