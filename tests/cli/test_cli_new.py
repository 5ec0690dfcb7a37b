"""nightglass new: makes what is not there, changes nothing that is."""

import json

from nightglass.cli.doors import FAILED
from nightglass.cli.main import run
from nightglass.gear.bag import read_bench_file


def test_new_bench_is_ready_to_fill_in(tmp_path, capsys):
    folder = tmp_path / "Käfer 空 bench"
    assert run(["new", str(folder), "--name", 'Club "é"']) == 0
    out = capsys.readouterr().out
    assert out.splitlines()[-1].startswith("Next: fill in ")
    assert read_bench_file(folder).bench.name == 'Club "é"'
    assert (folder / "frames").is_dir()
    sheet = (folder / "HOW-TO-SHOOT.txt").read_text("utf-8")
    assert "IEC 62471" in sheet


def test_existing_bench_is_never_overwritten(tmp_path, capsys):
    (tmp_path / "bench.toml").write_text("mine")
    assert run(["new", str(tmp_path)]) == FAILED
    assert "there already; nothing was changed" in capsys.readouterr().err
    assert (tmp_path / "bench.toml").read_text() == "mine"
    assert not (tmp_path / "frames").exists()


def test_frames_and_sheet_that_are_there_stay(tmp_path, capsys):
    (tmp_path / "frames").mkdir()
    (tmp_path / "HOW-TO-SHOOT.txt").write_text("mine")
    assert run(["new", str(tmp_path), "--json"]) == 0
    made = json.loads(capsys.readouterr().out)["made"]
    assert [name.split("/")[-1] for name in made] == ["frames", "bench.toml"]
    assert (tmp_path / "HOW-TO-SHOOT.txt").read_text() == "mine"


def test_file_in_place_of_the_folder_is_one_line(tmp_path, capsys):
    (tmp_path / "b").write_text("a file")
    assert run(["new", str(tmp_path / "b")]) == FAILED
    assert len(capsys.readouterr().err.splitlines()) == 1


def test_a_name_or_pitch_that_can_not_be_is_told_by_its_option(tmp_path, capsys):
    folder = str(tmp_path / "b")
    for options, words in (
        (["--name", " "], '--name is blank; give a name such as "Our bench"'),
        (
            ["--name", "x" * 81],
            '--name has 81 letters; at most 80; give a name such as "Our bench"',
        ),
        (
            ["--pitch-um", "0"],
            "--pitch-um is 0; allowed: between 0.5 and 30 um: the sensor's width",
        ),
        (["--pitch-um", "nan"], "--pitch-um is nan; allowed: between 0.5 and 30 um"),
    ):
        assert run(["new", folder, *options]) == 2
        assert capsys.readouterr().err.startswith(words)
    assert not (tmp_path / "b").exists()
