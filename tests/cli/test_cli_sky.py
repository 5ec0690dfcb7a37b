"""nightglass sky with a place: moon, twilight and the clock, through the real door."""

from __future__ import annotations

import json

import bench_fakes
import numpy as np
import pytest

import nightglass.frame.open as open_module
import nightglass.sky.observe as observe_module
from nightglass.cli.main import run
from nightglass.sky.camera import look_at, plain_camera
from nightglass.sky.find import COLUMNS, Found, FoundStars
from nightglass.sky.matching import Fit, Match
from nightglass.sky.observe import Observation
from nightglass.sky.refine import Solution

AT = ["--at", "52.5 N 13.4 E", "--zone", "Europe/Berlin"]


def observed(frame, pitch_um, focal_mm, exposure_s):
    """Stand in for the measuring: a solved frame toward the winter sky."""
    stars = FoundStars(**{name: np.full(3, 30.0) for name in COLUMNS})
    camera, rotation = plain_camera(3872, 2592, 2000.0), look_at(83.6, 22.0)
    none = np.empty(0, dtype=np.intp)
    fit = Fit(camera, rotation, np.zeros(5), 0.0, 0.0, 0.0)
    match = Match(none, none, np.empty(0))
    solution = Solution(camera, rotation, fit, match, 0.1, -100.0, True)
    found = Found(stars, None, 1.5, 0, 0)  # type: ignore[arg-type]
    return Observation(frame.file, frame, found, solution, None, None, ())


@pytest.fixture(autouse=True)
def stand_ins(monkeypatch):
    monkeypatch.setattr(open_module, "open_frame", lambda file: bench_fakes.open_fake(str(file)))
    monkeypatch.setattr(observe_module, "observe", observed)


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
    assert "the sky disagrees with the clock: by it" in capsys.readouterr().out
    assert run(["sky", file, *AT, "--json"]) == 0
    (frame,) = json.loads(capsys.readouterr().out)["frames"]
    assert frame["moment"]["conditions"][0] == "daylight"
    assert abs(frame["moment"]["clock_off_minutes"]) > 200


@pytest.mark.parametrize(
    ("when", "words"),
    [
        (None, "no time is recorded: moon, twilight and clock are not judged"),
        ("2026-01-18T22:00:00", "time zone not recorded: Europe/Berlin is assumed"),
        ("2099-01-18T22:00:00+01:00", "is outside the table of sun and moon"),
    ],
)
def test_times_that_tell_little_say_so(tmp_path, capsys, when, words):
    file = taken(tmp_path, when)
    assert run(["sky", file, *AT]) == 0
    assert words in capsys.readouterr().out
    assert run(["sky", file, *AT, "--json"]) == 0
    (frame,) = json.loads(capsys.readouterr().out)["frames"]
    assert any(words in note for note in frame["notes"])


def test_the_site_of_a_bench_serves_as_place(tmp_path, capsys):
    (tmp_path / "bench.toml").write_text(
        bench_fakes.BENCH_TOML + '[site]\nplace = "52.5 N 13.4 E"\n', encoding="utf-8"
    )
    file = taken(tmp_path, "2026-01-18T22:00:00+01:00")
    assert run(["sky", file, "--bench", str(tmp_path)]) == 0
    assert "at 52.5 N 13.4 E: aim" in capsys.readouterr().out


def test_without_a_place_nothing_is_said_of_the_moon(tmp_path, capsys):
    assert run(["sky", taken(tmp_path, "2026-01-18T22:00:00+01:00")]) == 0
    assert "moon" not in capsys.readouterr().out
