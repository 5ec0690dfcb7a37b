"""nightglass proof: made-up bench and made-up sky through the real door."""

from __future__ import annotations

import json
from dataclasses import replace

import bench_fakes
import cli_results
import numpy as np
import pytest

import nightglass.bench.beside as beside_module
import nightglass.proof.frame_run as run_module
from nightglass.cli.main import run
from nightglass.gear.body import Body
from nightglass.proof.comparison.bench_and_sky import compare_bench_and_sky
from nightglass.proof.records import SkyFrame
from nightglass.show.proof.chart import proof_chart
from nightglass.sky.astrometry.camera import look_at, plain_camera
from nightglass.sky.astrometry.codes import Advice, UnsolvedReason
from nightglass.sky.astrometry.matching import Fit, Match
from nightglass.sky.astrometry.refine import Solution
from nightglass.sky.astrometry.solve import Unsolved
from nightglass.sky.observe import Observation
from nightglass.sky.stars.find import COLUMNS, Detections, FoundStars
from nightglass.sky.zones.codes import MotionKind
from nightglass.sky.zones.motion import Motion
from nightglass.sky.zones.zone import Zone

LENSES = {"Wren": 5.0, "Dipper": 7.0, "Siskin": 10.0}


def spot(length_px):
    y, x = np.mgrid[-120:121, -120:121] / 4
    light = np.exp(-0.5 * (x * x + y * y) / (length_px / 3.29) ** 2)
    return (light / light.sum()).astype(np.float32)


def zones(length_px, x=(1935.5, 387.0), y=(1295.5, 432.0)):
    return tuple(
        Zone(
            row, column, x[k], y[k], radius, 40, length_px=size, length_px_err=0.03 * size,
            width_px=size, width_px_err=0.03 * size,
            trail_expected_px=(5.0, 1.0), trail_seen_px=(5.0, 1.0), image=spot(size),
        )
        for k, (row, column, radius, size) in enumerate(
            ((1, 2, 0.0, length_px), (0, 0, 0.76, 1.1 * length_px))
        )
    )  # fmt: skip


def observed(frame, pitch_um, focal_mm, projection, exposure_s, place):
    """Stand in for the measuring: the file says how large its stars are."""
    said = bench_fakes.said_in(frame.file)
    assert (pitch_um, focal_mm, projection) == (6.05, 12.0, "rectilinear")
    assert place is None
    stars = FoundStars(**{name: np.full(3, 30.0) for name in COLUMNS})
    found = Detections(stars, None, 1.5, 0, 0)  # type: ignore[arg-type]
    if said.get("cloud"):
        failed = Unsolved(UnsolvedReason.TOO_FEW_STARS, 4, Advice.MORE_LIGHT)
        return Observation(frame.file, frame, found, failed, None, None, ())
    camera, rotation = plain_camera(3872, 2592, 2000.0), look_at(80, 20)
    none = np.empty(0, dtype=np.intp)
    fit = Fit(camera, rotation, np.zeros(5), 0.0, 0.0, 0.0)
    match = Match(none, none, np.empty(0))
    solution = Solution(camera, rotation, fit, match, 0.1, -100.0, True)
    motion = Motion(zones(said["sky_length"]), (0.0, 0.0), (0.1, 0.1), MotionKind.TRIPOD)
    return Observation(frame.file, frame, found, solution, motion, None, ())


@pytest.fixture
def bench(tmp_path, monkeypatch):
    (tmp_path / "bench.toml").write_text(
        bench_fakes.BENCH_TOML.split("[[lens]]")[0]
        + "".join(f'[[lens]]\nname = "{n}"\nfocal_mm = 12\nf_number = 2\n' for n in LENSES)
        + "[[place]]" + bench_fakes.BENCH_TOML.split("[[place]]", 1)[1]
        + '[[frames]]\nmatch = "sky/manual*"\nlens = "Siskin"\nf_number = 2.8\n',
        encoding="utf-8",
    )  # fmt: skip
    results = tuple(cli_results.setting(name, 12.0, 2.8, size) for name, size in LENSES.items())
    monkeypatch.setattr(run_module, "results_on_record", lambda bench: results)
    monkeypatch.setattr(run_module, "open_frame", lambda file: bench_fakes.open_fake(str(file)))
    monkeypatch.setattr(run_module, "observe", observed)
    return tmp_path


def sky(bench, name, length, **said):
    bench_fakes.fake_file(
        bench / "sky" / name, sky_length=length, exposure_true_s=16.0,
        **{"lens": name.split(".")[0], **said},
    )  # fmt: skip


def test_the_order_holds_and_everything_is_shown(bench, capsys):
    for name, length in LENSES.items():
        sky(bench, f"{name}.raw", 1.05 * length)
    assert run(["proof", str(bench)]) == 0
    told = capsys.readouterr().out
    assert told.startswith("Verdict: the bench order holds, judged at centre and corner.")
    assert "three settings are too few to tell an order" in told
    assert "tau" not in told
    # One name of a setting in one output.
    assert " at 12 mm f/2.8" not in told
    for name in LENSES:
        assert f"sky/{name}.raw: {name}, 12 mm, f/2.8; 3 stars" in told
    assert told.splitlines()[-1].startswith("Next: ")
    page = bench / "out" / "proof.html"
    assert f"written: {page}" in told
    lead = '<p class="lead verdict">The bench order holds, judged at centre and corner.</p>'
    assert lead in page.read_text("utf-8")
    assert (bench / "out" / "proof.svg").read_text("utf-8").startswith("<svg")
    assert (bench / "out" / "proof.png").is_file()


def test_plain_data_hold_the_planted_ratio_and_every_frame(bench, capsys):
    sky(bench, "Wren.raw", 1.2 * LENSES["Wren"])
    sky(bench, "manual 1.raw", 9.0, lens=None, f_number=None)
    sky(bench, "Dipper.raw", 7.0, cloud=True)
    sky(bench, "Unknown.raw", 7.0)
    assert run(["proof", str(bench), "--json", "--no-charts"]) == 1
    data = json.loads(capsys.readouterr().out)
    assert (data["verdict"]["code"], data["verdict"]["settings"]) == ("too_few_settings", 2)
    assert data["next"]["code"] == "shoot_more_settings"
    frames = {frame["file"]: frame for frame in data["frames"]}
    assert len(frames) == 4
    assert frames["sky/manual 1.raw"]["setting"]["lens"] == "Siskin"
    assert frames["sky/Dipper.raw"]["reason"] == {
        "code": "not_solved",
        "error": "",
        "unsolved": {"reason": "too_few_stars", "stars": 4, "advice": "more_light"},
    }
    assert frames["sky/Unknown.raw"]["reason"]["code"] == "not_assigned"
    assert 'the lens "Unknown" is not in the bag' in frames["sky/Unknown.raw"]["reason"]["error"]
    wren = next(s for s in data["settings"] if s["lens"] == "Wren")
    centre = wren["places"][0]
    assert centre["ratio"]["value"] == pytest.approx(1.2, rel=0.01)
    assert centre["ratio"]["low"] > 1
    assert wren["causes"][0]["code"] == "focus_everywhere"
    assert not (bench / "out").exists()


def test_unchanged_frames_come_from_the_store_and_changed_ones_are_measured(
    bench, capsys, monkeypatch
):
    measured = []

    def counted(frame, *known):
        measured.append(frame.file)
        return observed(frame, *known)

    monkeypatch.setattr(run_module, "observe", counted)
    for name, length in LENSES.items():
        sky(bench, f"{name}.raw", 1.05 * length)
    sky(bench, "cloud.raw", 7.0, lens="Dipper", cloud=True)
    ask = ["proof", str(bench), "--json", "--no-charts"]
    run(ask)
    first = capsys.readouterr().out
    assert len(measured) == 4
    run(ask)
    assert capsys.readouterr().out == first
    # The one that could not be compared is tried again, the others are known.
    assert len(measured) == 5
    sky(bench, "Wren.raw", 1.3 * LENSES["Wren"])
    run(ask)
    changed = json.loads(capsys.readouterr().out)
    assert len(measured) == 7
    wren = next(s for s in changed["settings"] if s["lens"] == "Wren")
    assert wren["places"][0]["ratio"]["value"] == pytest.approx(1.3, rel=0.01)
    # Another bench.toml is another question.
    with (bench / "bench.toml").open("a", encoding="utf-8") as text:
        text.write("[sky]\nbrightness_mag_per_arcsec2 = 20.5\n")
    run(ask)
    assert len(measured) == 11


def test_a_frame_of_a_setting_that_the_bench_lacks_says_so(bench, capsys):
    sky(bench, "Wren.raw", 5.0, f_number=4.0)
    assert run(["proof", str(bench)]) == 1
    told = capsys.readouterr().out
    assert (
        "sky/Wren.raw: Wren, 12 mm, f/4; not compared: this setting has no measured frame on the "
        "bench; shoot it there too, or the sky with one that has"
    ) in told
    assert "<b>not used</b>" in (bench / "out" / "proof.html").read_text("utf-8")


def test_plain_data_name_the_page_and_unmatched_tables_stand_on_it(bench, capsys):
    sky(bench, "Dipper.raw", 7.0, cloud=True)
    assert run(["proof", str(bench), "--json"]) == 1
    data = json.loads(capsys.readouterr().out)
    page = bench / "out" / "proof.html"
    assert data["page"] == str(page)
    text = page.read_text("utf-8")
    assert "sky/manual*" in text
    assert "<b>not used</b>" in text
    assert not (bench / "out" / "proof.svg").exists()


def test_a_bench_without_sky_frames_says_what_to_do(bench, capsys):
    assert run(["proof", str(bench)]) == 1
    assert "no such folder; make it and copy raw frames of the night sky" in capsys.readouterr().err
    (bench / "sky").mkdir()
    assert run(["proof", str(bench)]) == 1
    assert "empty; copy raw frames of the night sky there" in capsys.readouterr().err


def test_a_folder_that_can_not_be_read_is_listed_and_the_others_go_on(bench, capsys, monkeypatch):
    sky(bench, "Wren.raw", 5.0)
    real = beside_module.find_files

    def locked(folder):
        return replace(real(folder), unreadable=(("closed", "Permission denied"),))

    monkeypatch.setattr(beside_module, "find_files", locked)
    assert run(["proof", str(bench), "--no-charts"]) == 1
    told = capsys.readouterr().out
    assert (
        "sky/closed: setting not known; not compared: can't be read (Permission denied); check its "
        "permissions"
    ) in told
    assert "sky/Wren.raw: Wren, 12 mm, f/2.8; 3 stars" in told


def test_a_chart_of_nothing_is_refused_and_of_something_is_valid():
    result = cli_results.setting("Wren", 12.0, 2.8, 5.0)
    body = Body("Loan body", pitch_um=6.05, width_px=3872, height_px=2592)
    frame = SkyFrame("a", result.setting, zones(6.0))
    chart = proof_chart(compare_bench_and_sky([result], [frame], body))
    chart.to_dict(validate=True)
    with pytest.raises(ValueError, match="no place was measured on both bench and sky"):
        proof_chart(compare_bench_and_sky([result], [], body))
