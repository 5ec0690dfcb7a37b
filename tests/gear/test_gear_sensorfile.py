"""sensor.json: written whole or not at all, read with care, and never over what was typed."""

from __future__ import annotations

import os
from datetime import date

import pytest

from nightglass.gear.bag import BenchFileError, read_bench_file, read_typed_bench
from nightglass.gear.body import Body, same_body
from nightglass.gear.sensorfile import (
    MeasuredSensor,
    MeasuredStep,
    SensorFileError,
    differences,
    merged,
    read_sensor_file,
    with_measured,
    write_sensor_file,
)

TOML = """\
[body]
name = "Loan body"
pitch_um = 6
width_px = 3000
height_px = 2000
read_noise_e = { 800 = 3.1 }
[[lens]]
name = "Wren 12 mm f/2"
focal_mm = 12
f_number = 2
"""
FOUND = MeasuredSensor(
    body="Loan body",
    recorded_body="Maker LOAN BODY",
    measured_on=date(2026, 3, 7),
    second_gain_iso=640,
    steps={
        800: MeasuredStep(read_noise_e=2.62, read_noise_err_e=0.03, gain_e_per_count=0.91,
                          gain_err_e_per_count=0.004),
        1600: MeasuredStep(read_noise_e=2.41, read_noise_err_e=0.02),
    },
)  # fmt: skip


@pytest.fixture
def bench(tmp_path):
    (tmp_path / "bench.toml").write_text(TOML, encoding="utf-8")
    return tmp_path


def test_it_comes_back_as_it_was_written(tmp_path):
    assert read_sensor_file(tmp_path) is None
    path = write_sensor_file(tmp_path, FOUND)
    assert path.name == "sensor.json"
    assert read_sensor_file(tmp_path) == FOUND
    assert [p.name for p in tmp_path.iterdir()] == ["sensor.json"]


def test_it_fills_the_body_where_nothing_was_typed(bench):
    write_sensor_file(bench, FOUND)
    body = read_bench_file(bench).body
    assert body.read_noise_e == {800: 3.1, 1600: 2.41}
    assert body.read_noise_err_e == {1600: 0.02}
    assert (body.gain_e_per_count, body.gain_err_e_per_count) == ({800: 0.91}, {800: 0.004})
    assert body.second_gain_iso == 640
    assert read_typed_bench(bench).body.read_noise_e == {800: 3.1}
    assert read_typed_bench(bench).body.second_gain_iso is None


def test_what_was_typed_counts_and_the_difference_is_told(bench):
    (one,) = differences(read_typed_bench(bench).body, FOUND)
    assert (one.key, one.iso, one.typed, one.measured) == ("read_noise_e", 800, 3.1, 2.62)
    near = Body("b", 6, 30, 20, read_noise_e={800: 2.64}, second_gain_iso=400)
    assert [d.key for d in differences(near, FOUND)] == ["second_gain_iso"]


def test_a_sensor_of_another_body_is_refused(bench):
    write_sensor_file(bench, FOUND.model_copy(update={"body": "X", "recorded_body": "Y"}))
    with pytest.raises(BenchFileError) as error:
        read_bench_file(bench)
    assert str(error.value) == (
        'sensor.json was measured on the body "X", but bench.toml has "Loan body"; delete '
        "sensor.json, or run nightglass sensor with frames of this body"
    )


def test_a_body_that_was_renamed_in_bench_toml_keeps_its_sensor():
    renamed = Body("our loan body", 6, 3000, 2000, recorded_as=("Loan Body",))
    assert with_measured((renamed,), FOUND)[0].read_noise_e[1600] == 2.41


@pytest.mark.parametrize(
    ("text", "cause"),
    [
        ("{", "not as it was written"),
        ('{"body": "b"}', "not as it was written"),
        ('{"body": "b", "measured_on": "2026-01-01", "format": 9}', "written by another version"),
    ],
)
def test_a_file_that_cannot_be_used_says_what_to_do(tmp_path, text, cause):
    (tmp_path / "sensor.json").write_text(text, encoding="utf-8")
    with pytest.raises(SensorFileError, match=cause) as error:
        read_sensor_file(tmp_path)
    assert str(error.value).endswith("delete it, and run nightglass sensor again")


def test_a_stop_while_writing_leaves_the_old_file(tmp_path, monkeypatch):
    write_sensor_file(tmp_path, FOUND)

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="No space left"):
        write_sensor_file(tmp_path, FOUND.model_copy(update={"steps": {}}))
    assert read_sensor_file(tmp_path) == FOUND
    assert [p.name for p in tmp_path.iterdir()] == ["sensor.json"]


def test_bodies_are_told_by_the_names_that_they_write():
    body = Body("Loan  body", 6, 30, 20, recorded_as=("LB-1",))
    assert same_body("Maker loan body", body)
    assert same_body("lb-1", body)
    assert not same_body("Another body", body)


def test_steps_measured_later_are_added_to_those_of_the_same_body():
    later = FOUND.model_copy(
        update={
            "second_gain_iso": None,
            "steps": {800: MeasuredStep(read_noise_e=2.6), 3200: MeasuredStep(read_noise_e=2.3)},
        }
    )
    both = merged(FOUND, later)
    assert {iso: step.read_noise_e for iso, step in both.steps.items()} == {
        800: 2.6, 1600: 2.41, 3200: 2.3,
    }  # fmt: skip
    assert both.second_gain_iso == 640
    assert merged(None, later) == later
    assert merged(FOUND.model_copy(update={"body": "another"}), later) == later
    assert merged(FOUND.model_copy(update={"serial": "1"}), later) == later
