"""nightglass sky with a place: moon, twilight and the clock, through the real door."""

from __future__ import annotations

import json
import time
from dataclasses import replace
from pathlib import Path

import bench_fakes
import numpy as np
import pytest

import nightglass.frame.many as many_module
import nightglass.show.sky.frame_report as report_module
from nightglass.cli.main import run
from nightglass.frame.errors import FrameError
from nightglass.sky.astrometry.attempt import Attempt
from nightglass.sky.astrometry.camera import look_at, plain_camera
from nightglass.sky.astrometry.circumstances import circumstances_of
from nightglass.sky.astrometry.codes import Advice, UnsolvedReason
from nightglass.sky.astrometry.matching import Fit, Match
from nightglass.sky.astrometry.refine import Solution
from nightglass.sky.astrometry.solve import Unsolved
from nightglass.sky.codes import FrameNote, FrameNoteCode
from nightglass.sky.observe import Observation
from nightglass.sky.stars.find import COLUMNS, Detections, FoundStars

LOST = Unsolved(
    UnsolvedReason.NO_PATTERN_FITS,
    40,
    Advice.NAME_THE_CAMERA,
    (Attempt("rectilinear", 39.0, 13),),
)
AT = ["--at", "52.5 N 13.4 E", "--zone", "Europe/Berlin"]


def observed(frame, pitch_um, focal_mm, exposure_s, place=None):
    """Stand in for the measuring: a solved frame toward the winter sky."""
    stars = FoundStars(**{name: np.full(3, 30.0) for name in COLUMNS})
    camera, rotation = plain_camera(3872, 2592, 2000.0), look_at(83.6, 22.0)
    none = np.empty(0, dtype=np.intp)
    fit = Fit(camera, rotation, np.zeros(5), 0.0, 0.0, 0.0)
    match = Match(none, none, np.empty(0))
    solution = Solution(camera, rotation, fit, match, 0.1, -100.0, True)
    found = Detections(stars, None, 1.5, 0, 0)  # type: ignore[arg-type]
    circumstances = circumstances_of(stars, solution, frame.metadata, place)
    seconds = exposure_s if exposure_s is not None else frame.metadata.exposure_true_s
    return Observation(
        frame.file,
        frame,
        found,
        solution,
        None,
        None,
        (),
        circumstances=circumstances,
        exposure_s=seconds,
    )


@pytest.fixture(autouse=True)
def stand_ins(monkeypatch):
    monkeypatch.setattr(report_module, "open_frame", lambda file: bench_fakes.open_fake(str(file)))
    monkeypatch.setattr(report_module, "observe", observed)


def taken(tmp_path, when):
    said = {} if when is None else {"taken_at": when}
    return str(bench_fakes.fake_file(tmp_path / "a.raw", **said))


def test_a_dark_night_is_told_with_aim_sun_and_moon(tmp_path, capsys):
    file = taken(tmp_path, "2026-01-18T22:00:00+01:00")
    assert run(["sky", file, *AT]) == 0
    told = capsys.readouterr().out
    assert "2026-01-18 22:00 at 52.5 N 13.4 E: aim 5" in told
    assert "moon below the horizon" in told
    assert "disagrees" not in told


def test_a_wrong_clock_is_told_by_how_much_in_words_and_data(tmp_path, capsys):
    file = taken(tmp_path, "2026-01-18T10:00:00+01:00")
    assert run(["sky", file, *AT]) == 0
    told = capsys.readouterr().out
    assert (
        "  the sky disagrees with the clock (2026-01-18 10:00 at 52.5 N 13.4 E): by it the stars "
        "of this frame would stand 15 degrees below the horizon; the clock is at least "
    ) in told
    assert "12 hours later these stars are up at night" in told
    for word in ("upright", "portrait)", "daylight:", "% lit"):
        assert word not in told
    assert run(["sky", file, *AT, "--json"]) == 0
    (frame,) = json.loads(capsys.readouterr().out)["frames"]
    assert frame["moment"]["conditions"] is None
    assert frame["moment"]["moon_share"] is None
    assert frame["moment"]["up_side"] is None
    assert frame["moment"]["half_day_minutes"] == 720
    assert frame["air"]["taken_out"] is False
    assert frame["air"]["reason"] == "clock_refuted"
    assert abs(frame["moment"]["clock_off_minutes"]) > 200


@pytest.mark.parametrize(
    ("when", "code", "words"),
    [
        (None, "no_time", "no time is recorded: moon, twilight and clock are not judged"),
        (
            "2026-01-18T22:00:00",
            "zone_assumed",
            "time zone not recorded: Europe/Berlin is assumed",
        ),
        (
            "2099-01-18T22:00:00+01:00",
            "outside_ephemeris",
            "is outside the table of sun and moon (1899-08-01 to 2053-10-01); check the date",
        ),
    ],
)
def test_times_that_tell_little_say_so(tmp_path, capsys, when, code, words):
    file = taken(tmp_path, when)
    assert run(["sky", file, *AT]) == 0
    assert words in capsys.readouterr().out
    assert run(["sky", file, *AT, "--json"]) == 0
    (frame,) = json.loads(capsys.readouterr().out)["frames"]
    assert {"code": code} in frame["notes"]


def test_the_site_of_a_bench_serves_as_place(tmp_path, capsys):
    (tmp_path / "bench.toml").write_text(
        bench_fakes.BENCH_TOML + '[site]\nplace = "52.5 N 13.4 E"\n', encoding="utf-8"
    )
    file = taken(tmp_path, "2026-01-18T22:00:00+01:00")
    assert run(["sky", file, "--bench", str(tmp_path)]) == 0
    assert "at 52.5 N 13.4 E: aim" in capsys.readouterr().out


def test_without_a_place_nothing_is_said_of_the_moon(tmp_path, capsys):
    assert run(["sky", taken(tmp_path, "2026-01-18T22:00:00+01:00")]) == 0
    told, offered = capsys.readouterr().out.split("Next: ")
    assert "moon" not in told
    assert offered == (
        '--report FOLDER draws the map; --at "52.1 N 4.4 E" tells moon, twilight and clock\n'
    )
    # A place tells nothing of a frame without a time; its exposure would.
    assert run(["sky", taken(tmp_path, None)]) == 0
    assert capsys.readouterr().out.endswith("Next: --report FOLDER draws the map\n")
    untimed = str(bench_fakes.fake_file(tmp_path / "b.raw", exposure_true_s=None))
    assert run(["sky", untimed, "--report", str(tmp_path / "out")]) == 0
    assert capsys.readouterr().out.endswith(
        "Next: --exposure-s SECONDS tells the lens from the trails\n"
    )


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--pitch-um", "0"], "--pitch-um is 0; it must be above 0"),
        (["--focal-mm", "-24"], "--focal-mm is -24; it must be above 0"),
        (["--exposure-s", "nan"], "--exposure-s is nan; it must be above 0"),
        (["--zone", "Mars/Base"], "--zone belongs to a place: name it with --at, or --bench"),
        (["--at", "52.5 N 13.4 E", "--zone", "Mars/Base"], "Mars/Base"),
        (["--at", "north of here"], "north of here"),
        (["--bench", "."], "--bench .: there is no bench.toml in it; name the place with --at"),
    ],
)
def test_what_is_mistyped_is_told_in_one_line_with_its_own_exit_code(
    tmp_path, capsys, monkeypatch, options, words
):
    monkeypatch.chdir(tmp_path)
    file = taken(tmp_path, "2026-01-18T22:00:00+01:00")
    assert run(["sky", file, *options]) == 2
    told, said = capsys.readouterr()
    assert told == ""
    assert words in said
    assert len(said.splitlines()) == 1


def test_a_bench_without_a_place_says_so(tmp_path, capsys):
    (tmp_path / "bench.toml").write_text(bench_fakes.BENCH_TOML, encoding="utf-8")
    file = taken(tmp_path, "2026-01-18T22:00:00+01:00")
    assert run(["sky", file, "--bench", str(tmp_path)]) == 2
    assert capsys.readouterr().err == (
        f"--bench {tmp_path}: its bench.toml keeps no place under [site]; name the place with "
        "--at\n"
    )


def test_the_air_left_in_the_camera_is_said_with_what_it_does(tmp_path, capsys):
    file = taken(tmp_path, "2026-01-18T22:00:00+01:00")
    assert run(["sky", file]) == 0
    assert (
        "  air: not taken out of the camera, place and time of the frame are not both known; it "
        "makes the focal length 0.02 to 0.12 % too short: the lens's own is 2000.0 ± 1.3 px\n"
    ) in capsys.readouterr().out
    assert run(["sky", file, "--json"]) == 0
    (frame,) = json.loads(capsys.readouterr().out)["frames"]
    assert frame["air"]["lens_focal_px_err"] == pytest.approx(2000 * 0.00064, rel=0.01)


@pytest.mark.parametrize(
    ("options", "focal_mm", "words"),
    [
        (
            [],
            0,
            "options: --focal-mm for the focal length, which the file does not say; --pitch-um for "
            "the pixel pitch (1000 x the sensor's width in mm / pixels across)",
        ),
        (
            [],
            24.0,
            "options: --focal-mm if the lens was not at the 24 mm that the file says; --pitch-um "
            "for the pixel pitch (1000 x the sensor's width in mm / pixels across)",
        ),
        (
            ["--focal-mm", "35", "--pitch-um", "4.3"],
            24.0,
            "options: check the 35 mm of --focal-mm; check the 4.3 um of --pitch-um",
        ),
    ],
)
def test_advice_on_a_frame_that_can_not_be_solved_names_the_options(
    tmp_path, capsys, monkeypatch, options, focal_mm, words
):
    def lost(frame, pitch_um, known_mm, **more):
        seen = observed(frame, None, None, None)
        metadata = replace(frame.metadata, focal_mm=focal_mm or None)
        given = {"pitch_um": pitch_um, "focal_mm": known_mm}
        frame = replace(frame, metadata=metadata)
        return replace(seen, frame=frame, solution=LOST, circumstances=None, **given)

    monkeypatch.setattr(report_module, "observe", lost)
    file = taken(tmp_path, None)
    assert run(["sky", file, *options]) == 1
    told = capsys.readouterr().out
    assert "  not solved: no star pattern of the 40 brightest stars fits the catalogue\n" in told
    assert "  tried: 1 camera, rectilinear, 39 degrees wide, 13 stars and onward\n" in told
    assert "  what would help: state the focal length and the pixel pitch; try a frame" in told
    assert f"15 stars above the land; {words}\n" in told
    assert run(["sky", file, *options, "--json"]) == 1
    (frame,) = json.loads(capsys.readouterr().out)["frames"]
    assert (frame["reason"], frame["advice"]) == ("no_pattern_fits", "name_the_camera")
    assert frame["tried"] == [
        {"projection": "rectilinear", "width_degrees": 39.0, "pattern_stars": 13}
    ]


@pytest.mark.parametrize(
    ("note", "words"),
    [
        (
            FrameNote(FrameNoteCode.TRAILS, length_px=43.2),
            "most points are lines, 43 px and longer: star trails; a frame of seconds, not of many "
            "minutes, can be solved",
        ),
        (
            FrameNote(FrameNoteCode.DISCS, length_px=17.0),
            "the points of light are discs about 17 px wide: the lens is far out of focus; focus "
            "on a star",
        ),
    ],
)
def test_options_do_not_help_a_frame_of_trails_or_discs(tmp_path, capsys, monkeypatch, note, words):
    failed = replace(LOST, advice=Advice.ANOTHER_FRAME)

    def lost(frame, *known, **more):
        seen = observed(frame, None, None, None)
        return replace(seen, solution=failed, circumstances=None, notes=(note,))

    monkeypatch.setattr(report_module, "observe", lost)
    assert run(["sky", taken(tmp_path, None)]) == 1
    told = capsys.readouterr().out
    assert f"  note: {words}\n" in told
    assert "  what would help: another frame, as the note says; no option helps\n" in told


def test_options_do_not_help_a_frame_without_stars(tmp_path, capsys, monkeypatch):
    failed = Unsolved(UnsolvedReason.TOO_FEW_STARS, 3, Advice.MORE_LIGHT)

    def dark(frame, *known, **more):
        return replace(observed(frame, None, None, None), solution=failed, circumstances=None)

    monkeypatch.setattr(report_module, "observe", dark)
    assert run(["sky", taken(tmp_path, None)]) == 1
    told = capsys.readouterr().out
    assert "  not solved: only 3 stars stand out; a solution takes 8 or more\n" in told
    assert "or wait for the clouds to pass\n" in told


@pytest.fixture
def solved_in(monkeypatch):
    """Frames whose name begins with "slow" take longer; a "torn" one can't be read."""

    def opened(file):
        if file.name.startswith("torn"):
            raise FrameError(str(file), "not a picture that can be read", "give a raw file")
        return bench_fakes.open_fake(str(file))

    def slowly(frame, *known, **more):
        if "slow" in frame.file:
            time.sleep(0.15)
        return replace(observed(frame, *known, **more), file=frame.file)

    monkeypatch.setattr(report_module, "open_frame", opened)
    monkeypatch.setattr(report_module, "observe", slowly)


def files_named(folder, *names):
    return [str(bench_fakes.fake_file(folder / name)) for name in names]


def test_frames_are_told_in_order_and_one_bad_file_stops_none(tmp_path, capsys, solved_in):
    files = files_named(tmp_path, "slow.raw", "b.raw", "torn.raw", "slow2.raw", "c.raw")
    assert run(["sky", *files]) == 1
    told, said = capsys.readouterr()
    names = [line.split(":")[0] for line in told.splitlines() if line.endswith("left out")]
    assert names == [files[0], files[1], files[3], files[4]]
    assert "torn.raw: not a picture that can be read; give a raw file" in said
    assert run(["sky", *files, "--json"]) == 1
    data = json.loads(capsys.readouterr().out)
    assert [frame["file"] for frame in data["frames"]] == [files[k] for k in (0, 1, 3, 4)]
    assert data["refused"] == [
        {"file": files[2], "reason": f"{files[2]}: not a picture that can be read; give a raw file"}
    ]


def test_a_folder_stands_for_its_files_and_a_file_given_twice_is_taken_once(
    tmp_path, capsys, solved_in
):
    files = files_named(tmp_path, "a.raw", "b.raw")
    (tmp_path / "notes.txt").write_text("dew at two", encoding="utf-8")
    assert run(["sky", str(tmp_path), files[0], f"{tmp_path}/./b.raw", "--json"]) == 0
    frames = json.loads(capsys.readouterr().out)["frames"]
    assert [frame["file"] for frame in frames] == files
    (tmp_path / "empty").mkdir()
    assert run(["sky", str(tmp_path / "empty")]) == 1
    assert "empty: no files in this folder" in capsys.readouterr().err


def test_ctrl_c_loses_nothing_that_was_told(tmp_path, capsys, solved_in, monkeypatch):
    files = files_named(tmp_path, "a.raw", "b.raw", "c.raw")
    in_order = many_module.in_order

    def stopped(job, items):
        for number, result in enumerate(in_order(job, items, 1)):
            if number == 1:
                raise KeyboardInterrupt
            yield result

    monkeypatch.setattr(many_module, "in_order", stopped)
    assert run(["sky", *files, "--report", str(tmp_path / "out")]) == 130
    told, said = capsys.readouterr()
    assert f"{files[0]}: 3 stars" in told
    assert said.endswith(
        "Stopped. What was told or written stays; the same command begins again.\n"
    )
    assert "a.raw" in (tmp_path / "out" / "sky.html").read_text(encoding="utf-8")
    assert run(["sky", *files, "--json"]) == 130
    data = json.loads(capsys.readouterr().out)
    assert data["stopped"] is True
    assert len(data["frames"]) == 1


def test_a_report_of_frames_with_one_name_from_two_folders(tmp_path, capsys, solved_in):
    for folder in ("one", "two"):
        (tmp_path / folder).mkdir()
    files = files_named(tmp_path, "one/a.raw", "two/a.raw")
    assert run(["sky", *files, "--report", str(tmp_path / "out"), *AT]) == 0
    assert f"written: {tmp_path / 'out' / 'sky.html'}" in capsys.readouterr().out
    page = (tmp_path / "out" / "sky.html").read_text(encoding="utf-8")
    assert page.count("<section id=") == 2


def test_a_report_that_can_not_be_written_is_said_before_anything_is_measured(
    tmp_path, capsys, solved_in
):
    (file,) = files_named(tmp_path, "a.raw")
    (tmp_path / "taken").write_text("a file", encoding="utf-8")
    assert run(["sky", file, "--report", str(tmp_path / "taken")]) == 2
    told, said = capsys.readouterr()
    assert told == ""
    assert said == (
        f"--report {tmp_path / 'taken'}: this is a file; name a folder, a new one or not\n"
    )


def test_nothing_given_says_what_to_give(capsys):
    assert run(["sky"]) == 2
    assert "no frames given: name raw files of the night sky" in capsys.readouterr().err


def test_frames_of_a_bench_come_from_its_store_until_they_change(tmp_path, capsys, monkeypatch):
    bench = tmp_path / "bench"
    (bench / "sky").mkdir(parents=True)
    (bench / "bench.toml").write_text(bench_fakes.BENCH_TOML, encoding="utf-8")
    for name in ("a.raw", "b.raw"):
        bench_fakes.fake_file(bench / "sky" / name)
    bench_fakes.fake_file(tmp_path / "loose.raw")
    measured = []

    def counted(frame, *known, **more):
        measured.append(Path(frame.file).name)
        return observed(frame, *known, **more)

    monkeypatch.setattr(report_module, "open_frame", lambda file: bench_fakes.open_fake(str(file)))
    monkeypatch.setattr(report_module, "observe", counted)
    run(["sky", str(bench / "sky"), "--json"])
    first = capsys.readouterr().out
    run(["sky", str(bench / "sky"), "--json"])
    assert capsys.readouterr().out == first
    assert sorted(measured) == ["a.raw", "b.raw"]
    # Another question and another content are measured; loose frames have no store.
    run(["sky", str(bench / "sky"), "--json", "--focal-mm", "24"])
    bench_fakes.fake_file(bench / "sky" / "a.raw", content="another night")
    run(["sky", str(bench / "sky"), "--json"])
    run(["sky", str(tmp_path / "loose.raw")])
    run(["sky", str(tmp_path / "loose.raw")])
    assert sorted(measured[2:]) == ["a.raw", "a.raw", "b.raw", "loose.raw", "loose.raw"]
