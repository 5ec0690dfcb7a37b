"""nightglass flats at the door: a bench folder with flats of two lenses, bad input, plain data."""

from __future__ import annotations

import json
import math
import os

import numpy as np
import pytest
from cli_results import BODY, seem_measured, setting

from nightglass.bench.falloff import falloffs_of
from nightglass.bench.store.store import open_store
from nightglass.cli.main import run
from nightglass.frame.record import Metadata
from nightglass.gear.bag import read_bench_file
from nightglass.light.falloff import FalloffSource
from nightglass.scene.dng import write_dng

WIDTH, HEIGHT, PITCH_UM = 576, 384, 20.0
TOML = f"""\
[body]
name = "Test body"
pitch_um = {PITCH_UM}
width_px = {WIDTH}
height_px = {HEIGHT}
[[lens]]
name = "Wren 12 mm f/2"
focal_mm = 12
f_number = 2
[[lens]]
name = "Heron 12 mm f/2"
focal_mm = 12
f_number = 2
"""
WREN, HERON = "Wren 12 mm f/2", "Heron 12 mm f/2"
TERMS = {WREN: (0.3, 0.5), HERON: (0.9, 0.2)}


def flat(lens, f_number=2.0, level=6000.0, slope=0.0, seconds=0.01, **more):
    """Counts of an evenly lit frame behind one of the two lenses, with photon noise."""
    half = math.hypot(WIDTH, HEIGHT) / 2
    y, x = np.indices((HEIGHT, WIDTH), dtype=np.float64)
    x, y = (x + 0.5 - WIDTH / 2) / half, (y + 0.5 - HEIGHT / 2) / half
    square = x**2 + y**2
    first, second = (term * 2.0 / f_number for term in TERMS[lens])
    solid = np.cos(np.arctan(np.sqrt(square) * half * PITCH_UM / 1000 / 12)) ** 3
    light = level * 10 ** (-0.4 * (first * square + second * square**2)) * solid
    light *= np.exp(slope * x)
    rng = np.random.default_rng([int(f_number * 10), len(lens), int(level), int(100 + slope * 100)])
    return np.minimum(512 + rng.poisson(light), 16383).astype(np.uint16)


def write(path, counts, lens, f_number=2.0, seconds=0.01, iso=200):
    known = Metadata(
        body="Test body", lens=lens, focal_mm=12.0, f_number=f_number, iso=iso,
        exposure_marked_s=seconds, exposure_true_s=seconds,
    )  # fmt: skip
    path.parent.mkdir(exist_ok=True, parents=True)
    write_dng(
        path, counts, white_level=16383, pattern=[[0, 1], [1, 2]], black=512, metadata=known,
        compression="none", verify=False,
    )  # fmt: skip


@pytest.fixture
def bench(tmp_path):
    (tmp_path / "bench.toml").write_text(TOML, encoding="utf-8")
    for lens, passed in ((WREN, 1.0), (HERON, 0.8)):
        for f_number in (2.0, 2.8):
            for turn, slope in ((0, 0.2), (1, -0.2)):
                name = f"{lens[:3]}_{round(10 * f_number)}_{turn}.dng"
                level = 6000 * passed * (2.0 / f_number) ** 2 * 1.02**turn
                write(tmp_path / "flats" / name, flat(lens, f_number, level, slope), lens, f_number)
    return tmp_path


def data(capsys, *words):
    code = run([*words, "--json", "--no-charts"])
    return code, json.loads(capsys.readouterr().out)


def test_the_falloff_of_each_setting_comes_back_and_the_ranking_uses_it(bench, capsys):
    code, found = data(capsys, "flats", str(bench))
    assert code == 0
    assert len(found["settings"]) == 4
    for one in found["settings"]:
        true = [term * 2.0 / one["f_number"] for term in TERMS[one["lens"]]]
        lost = sum(true) * 0.4 * math.log2(10)
        assert one["corner_pupil_stops"] == pytest.approx(lost, abs=0.03)
        away = abs(one["corner_pupil_stops"] - lost)
        assert away < 3 * one["corner_flat_stops_err"]
    bag = read_bench_file(bench)
    store = open_store(bag)
    kept = falloffs_of(store)
    store.close()
    assert len(kept) == 4
    assert {one.source for one in kept.values()} == {FalloffSource.FLAT}
    assert {one.frames for one in kept.values()} == {2}


def test_the_corner_as_printed_is_the_ratio_of_counts_on_the_frame(bench, capsys):
    """Other means: the mean of green counts in the corner against those in the middle."""
    _, found = data(capsys, "flats", str(bench))
    one = next(s for s in found["settings"] if s["lens"] == WREN and s["f_number"] == 2)
    counts = flat(WREN).astype(float) - 512
    green = np.where(np.add(*np.indices(counts.shape)) % 2 == 1, counts, np.nan)
    corner = np.nanmean([green[:8, :8], green[:8, -8:], green[-8:, :8], green[-8:, -8:]])
    middle = np.nanmean(
        green[HEIGHT // 2 - 12 : HEIGHT // 2 + 12, WIDTH // 2 - 12 : WIDTH // 2 + 12]
    )
    assert one["corner_flat_stops"] == pytest.approx(math.log2(middle / corner), abs=0.08)


def test_lens_is_held_against_lens_at_the_same_mark(bench, capsys):
    _, found = data(capsys, "flats", str(bench), "--reference", "Wren")
    (light,) = found["relative_light"]
    assert found["reference"] == WREN
    assert (light["lens"], light["f_numbers"]) == (HERON, [2.0, 2.8])
    assert light["times"] == pytest.approx(0.8, abs=3 * light["err"])
    assert light["err"] < 0.03


def test_text_leads_with_the_answer_and_writes_a_chart(bench, capsys):
    assert run(["flats", str(bench)]) == 0
    text = capsys.readouterr().out
    assert text.startswith(f"The corners of {HERON}, f/2 get ")
    assert f"Light at the same marked f-number, {HERON} = 1, if the light never changed:" in text
    assert (bench / "out" / "flats.png").is_file()
    assert text.rstrip().endswith("it uses what was measured here")


def test_a_flat_that_was_taken_out_tells_nothing_any_more(bench, capsys):
    assert run(["flats", str(bench), "--no-charts"]) == 0
    for path in (bench / "flats").glob("Her*"):
        path.unlink()
    assert run(["flats", str(bench), "--no-charts"]) == 0
    store = open_store(read_bench_file(bench))
    kept = falloffs_of(store)
    store.close()
    assert {one.lens for one in kept} == {WREN}


def test_frames_of_no_use_are_named_with_the_reason(bench, capsys):
    flats = bench / "flats"
    half = flat(WREN)
    half[:, : WIDTH // 2] = 512
    scene = flat(WREN)
    scene[100:260, 60:300] = 1200
    write(flats / "z1.dng", flat(WREN, level=30000), WREN)
    write(flats / "z2.dng", flat(WREN, level=60), WREN)
    write(flats / "z3.dng", half, WREN)
    write(flats / "z4.dng", scene, WREN)
    write(flats / "z5.dng", flat(WREN), "Another 50 mm")
    (flats / "z6.dng").write_bytes(b"no picture")
    (flats / "z7.dng").write_bytes((flats / "Wre_20_0.dng").read_bytes())
    os.mkfifo(flats / "z8.dng")
    code, found = data(capsys, "flats", str(bench))
    faults = {one["name"]: one["fault"] for one in found["frames"] if one["fault"]}
    assert code == 0
    assert faults == {
        "flats/z1.dng": "clipped", "flats/z2.dng": "too_dark", "flats/z3.dng": "not_even",
        "flats/z4.dng": "not_even", "flats/z5.dng": "not_of_bench",
        "flats/z6.dng": "unreadable", "flats/z7.dng": "same_file",
        "flats/z8.dng": "unreadable",
    }  # fmt: skip
    assert run(["flats", str(bench), "--no-charts"]) == 0
    text = capsys.readouterr().out
    assert "flats/z1.dng: too bright: green counts reach 95 % of clipping; shorten" in text
    assert "flats/z3.dng: not evenly lit: a scene, a lamp in the picture, or the lens cap" in text
    assert "flats/z7.dng: the same file as flats/Wre_20_0.dng" in text
    assert "flats/z8.dng: can't be read: a named pipe, passed over; only plain files" in text


def test_a_setting_with_one_flat_and_a_flat_of_another_body_are_told(bench, capsys):
    for path in (bench / "flats").glob("*_1.dng"):
        path.unlink()
    known = Metadata(
        body="Borrowed body", lens=WREN, focal_mm=12.0, f_number=2.0, iso=200,
        exposure_marked_s=0.01, exposure_true_s=0.01,
    )  # fmt: skip
    write_dng(
        bench / "flats" / "z.dng", flat(WREN), white_level=16383, pattern=[[0, 1], [1, 2]],
        black=512, metadata=known, compression="none", verify=False,
    )  # fmt: skip
    assert run(["flats", str(bench), "--no-charts"]) == 0
    text = capsys.readouterr().out
    assert "A setting with one frame has nothing to be checked against: take two, turned." in text
    assert "flats/z.dng: " in text
    assert "Borrowed body" in text.split("flats/z.dng: ")[1]


def test_nothing_of_use_gives_exit_code_1_and_says_what_to_do(tmp_path, capsys):
    (tmp_path / "bench.toml").write_text(TOML, encoding="utf-8")
    write(tmp_path / "flats" / "a.dng", flat(WREN, level=60), WREN)
    assert run(["flats", str(tmp_path)]) == 1
    text = capsys.readouterr().out
    assert text.startswith("No falloff could be measured: no frame in flats/ is of use.")
    assert "a.dng: too dark" in text
    assert "Next: take the frames again" in text


def test_a_reference_without_flats_is_refused(bench, capsys):
    for path in (bench / "flats").glob("Her*"):
        path.unlink()
    assert run(["flats", str(bench), "--reference", "Heron"]) == 2
    assert f'no flats of the lens "{HERON}"; lenses with flats: {WREN}' in capsys.readouterr().err


def test_light_of_lens_against_lens_reaches_the_ranking_unless_something_was_typed(
    bench, capsys, monkeypatch
):
    data(capsys, "flats", str(bench), "--reference", "wren")
    # The spots come from a larger body: flats of small frames are quick.
    lenses = TOML[TOML.index("[[lens]]") :]
    (bench / "bench.toml").write_text(BODY + lenses, encoding="utf-8")
    seem_measured(monkeypatch, (setting(WREN, 12, 2.0, 5.0), setting(HERON, 12, 2.0, 5.0)))
    said = transmissions(data(capsys, "rank", str(bench))[1])
    wren, heron = said[WREN], said[HERON]
    assert {one["known_from"] for one in said.values()} == {"flats"}
    # Heron passes 0.8 of Wren's light; the mean of both logarithms is the default's, and what the
    # flats leave open of both is the default's 0.08 over the root of two lenses. (Heron counts a
    # little less: its ratio has an error of its own.)
    assert heron["share"] / wren["share"] == pytest.approx(0.8, abs=0.03)
    assert math.sqrt(heron["share"] * wren["share"]) == pytest.approx(0.85, rel=5e-3)
    assert wren["common_err"] / wren["share"] == pytest.approx(0.08 / 0.85 / 2**0.5, rel=0.02)
    assert (wren["err"], heron["err"] / heron["share"]) == (0, pytest.approx(0.012, abs=0.01))
    typed = lenses.replace("f_number = 2\n[[", "f_number = 2\ntransmission = 0.9\n[[")
    (bench / "bench.toml").write_text(BODY + typed, encoding="utf-8")
    said = transmissions(data(capsys, "rank", str(bench))[1])
    assert (said[WREN]["known_from"], said[WREN]["share"]) == ("measured", 0.9)
    # What was typed of one lens tells the other's light: it counts more than the default.
    assert said[HERON]["known_from"] == "flats"
    assert said[HERON]["share"] == pytest.approx(0.9 * 0.8, abs=0.03)
    run(["rank", str(bench), "--no-charts", "--assumed"])
    assert "against the others, all together +-" in capsys.readouterr().out


def transmissions(found):
    rows = [row for row in found["assumptions"] if row["code"] == "transmission"]
    return {lens: row["values"] for row in rows for lens in row["values"]["lenses"]}
