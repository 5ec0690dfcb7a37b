"""nightglass faults at the door: a bad copy, a comatic lens, what was not tested, plain data."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from faulty_zones import spot_zone
from PIL import Image

import nightglass.bench.study.repeats
from nightglass.bench.faults.report import find_faults
from nightglass.bench.records import Combined, SettingResult
from nightglass.cli.main import run
from nightglass.gear.bag import read_bench_file
from nightglass.gear.dial import exact_f_number
from nightglass.gear.lens import LensSetting
from nightglass.optics.wavefront import Pupil
from nightglass.show.faults.text import report_lines

BENCH = """
[body]
name = "Loan body"
pitch_um = 6.05
width_px = 3872
height_px = 2592

[[lens]]
name = "Wren 12 mm f/2"
focal_mm = 12
f_number = 2.0

[[lens]]
name = "Heron 20 mm f/1.8"
focal_mm = 20
f_number = 1.8
"""


def corner(mark, place, x, y, times):
    zoom = exact_f_number(mark) / 2
    zone = spot_zone(Pupil(2 * zoom, {7: 1.6 / zoom**3, 8: 1.2 / zoom**3}), place, x, y)
    length = zone.length_px.value * times
    values = tuple(length * v for v in (0.97, 1.0, 1.03))
    return replace(zone, length_px=Combined(length, 0.02 * length, None, values))


def heron(mark):
    setting = LensSetting("Loan body", "Heron 20 mm f/1.8", 20.0, mark)
    zones = (
        corner(mark, "top left", 250.0, 180.0, 1.0),
        corner(mark, "bottom right", 3620.0, 2410.0, 1.6),
    )
    return SettingResult(setting, zones)


@pytest.fixture(scope="module")
def results():
    wren = LensSetting("Loan body", "Wren 12 mm f/2", 12.0, 2.0)
    alone = spot_zone(Pupil(2.0, {4: 0.1}), "centre", 1935.5, 1295.5)
    return (heron(2.0), heron(2.8), heron(4.0), SettingResult(wren, (alone,)))


@pytest.fixture
def bench(tmp_path, monkeypatch, results):
    (tmp_path / "bench.toml").write_text(BENCH, encoding="utf-8")
    monkeypatch.setattr(
        nightglass.bench.study.repeats, "setting_results", lambda store, bench: results
    )
    return tmp_path


def test_the_answer_leads_and_one_step_follows(bench, capsys):
    assert run(["faults", str(bench), "--no-charts"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[:4] == [
        "Blurred unevenly, perhaps decentred, tilted or by the bench: Heron 20 mm f/1.8.",
        "Copy not tested for Wren 12 mm f/2: it takes two places or more at one distance from the "
        "centre, such as opposite corners.",
        "",
        "Heron 20 mm f/1.8",
    ]
    lines = lines[3:]
    assert "bottom right is 1.60 times as blurred as top left, by chance in under 0.1 %" in lines[1]
    assert "this copy may be decentred or tilted." in lines[1]
    assert lines[2] == ("  Can't tell decentring from tilt without a focus series at the corners.")
    assert lines[3] == (
        "  At f/2 a star at bottom right is one-sided with a tail, as coma draws it."
    )
    assert lines[4].startswith("  At bottom right stopping down helps: each stop leaves 5")
    assert "behind it: coma; it is not said whether each f-number was refocused" in lines[4]
    assert lines[-1].startswith("Next: nightglass rank ")


def test_the_spots_lie_in_the_picture_as_in_the_frame(bench, capsys):
    assert run(["faults", str(bench), "--json"]) == 0
    written = [Path(name) for name in json.loads(capsys.readouterr().out)["written"]]
    assert [p.name for p in written] == [
        "faults_Heron-20-mm-f-1-8.png", "faults_Wren-12-mm-f-2.png",
    ]  # fmt: skip
    with Image.open(written[0]) as picture:
        grey = np.asarray(picture.convert("L"), dtype=float)
    rows, columns = np.nonzero(grey < 8)
    # Two black tiles: top left and bottom right.
    assert np.corrcoef(rows, columns)[0, 1] > 0.5


def test_narrow_terminals_stack_the_table(bench, capsys, results):
    lenses = find_faults(results, read_bench_file(bench).body)
    for line in report_lines(lenses, read_bench_file(bench).body, 40):
        assert not line.startswith("setting ")


def test_plain_data_carries_codes_and_the_numbers_behind_them(bench, capsys):
    assert run(["faults", str(bench), "--json", "--lens", "heron"]) == 0
    (lens,) = json.loads(capsys.readouterr().out)["lenses"]
    copy = lens["settings"][0]["copy"]
    assert (copy["verdict"], copy["worst_place"]) == ("uneven", "bottom right")
    assert copy["ratio"] == pytest.approx(1.6, rel=0.01)
    assert [p["shape"] for p in lens["settings"][0]["places"]] == ["one_sided"] * 2
    assert {s["cause"] for s in lens["stops"]} == {"second_power"}


def test_rank_says_the_same_of_the_copy(bench, capsys):
    """One question, one answer."""
    assert run(["faults", str(bench), "--json", "--lens", "heron"]) == 0
    (lens,) = json.loads(capsys.readouterr().out)["lenses"]
    assert run(["rank", str(bench), "--json", "--no-charts"]) == 0
    ranked = json.loads(capsys.readouterr().out)["standings"]
    row = next(r for r in ranked if r["lens"] == "Heron 20 mm f/1.8")
    copy = next(s for s in lens["settings"] if s["f_number"] == row["f_number"])["copy"]
    for name in ("verdict", "ratio", "chance", "power", "found_ratio"):
        assert row[f"copy_{name}"] == copy[name]
    assert row["corners_chance"] == copy["chance"]


def test_a_lens_without_spots_on_record_says_what_to_do(bench, capsys, monkeypatch):
    monkeypatch.setattr(nightglass.bench.study.repeats, "setting_results", lambda store, bench: ())
    assert run(["faults", str(bench)]) == 1
    assert "no spot of these lenses is on record; next: nightglass measure" in (
        capsys.readouterr().err
    )
