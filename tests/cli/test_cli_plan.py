"""nightglass plan: prints, writes, says what can't be."""

import json

import pytest
from bench_fakes import BENCH_TOML, fake_file

from nightglass.cli.doors import FAILED, MISTYPED
from nightglass.cli.main import run


@pytest.fixture
def folder(tmp_path):
    made = tmp_path / "Käfer bench"
    (made / "frames").mkdir(parents=True)
    (made / "bench.toml").write_text(BENCH_TOML, encoding="utf-8")
    return made


def test_plan_is_printed_and_written_and_the_sheet_made_anew(folder, capsys):
    assert run(["plan", str(folder), "--source", "0.5", "--hours", "2"]) == 0
    out = capsys.readouterr().out
    assert out.startswith("The full plan takes ")
    assert "What the short plan costs:" in out
    assert out.splitlines()[-1] == (
        f'Next: shoot, with  nightglass watch "{folder}"  running beside the camera'
    )
    for name in ("html", "pdf", "csv", "json"):
        assert (folder / "out" / f"bench_plan.{name}").stat().st_size > 1000
    sheet = (folder / "HOW-TO-SHOOT.txt").read_text("utf-8")
    assert "Wren" in sheet
    # Another bag, another sheet.
    text = (folder / "bench.toml").read_text("utf-8").replace('"Dipper"', '"Plover"')
    (folder / "bench.toml").write_text(text, "utf-8")
    assert run(["plan", str(folder)]) == 0
    assert "Plover" in (folder / "HOW-TO-SHOOT.txt").read_text("utf-8")


def test_changed_sheet_is_kept_under_another_name(folder, capsys):
    (folder / "HOW-TO-SHOOT.txt").write_text("mine", "utf-8")
    assert run(["plan", str(folder)]) == 0
    assert "Your own changes to HOW-TO-SHOOT.txt are kept: " in capsys.readouterr().out
    assert (folder / "HOW-TO-SHOOT-yours.txt").read_text("utf-8") == "mine"


def test_json_is_data_alone(folder, capsys):
    assert run(["plan", str(folder), "--json", "--repeats", "1", "--lens", "wren"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert data["total"]["frames"] == sum(line["frames"] for line in data["lines"])
    assert data["precision"]["counts_from_percent"] is None
    assert {line["lens"] for line in data["lines"]} == {"Wren"}


def test_frames_on_record_give_exposure_and_scatter(folder, capsys, fakes):
    for k, length in enumerate((5.0, 6.0, 7.0, 5.5, 6.5, 6.0)):
        fake_file(folder / "frames" / f"{k}.dng", f_number=2.0, length=length, peak=0.13)
    assert run(["measure", str(folder)]) == 0
    capsys.readouterr()
    assert run(["plan", str(folder), "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert (data["precision"]["scatter_source"], data["precision"]["scatter_dof"]) == ("record", 5)
    first = data["lines"][0]
    # Peak 13 % at 1/2 s: two stops longer.
    assert (first["exposure_from"], first["marked_s"]) == ("same setting", 2.0)


@pytest.mark.parametrize(
    ("options", "line"),
    [
        (["--hours", "0.05"], "3 min at the bench is too short: the shortest plan, Wren alone"),
        (["--hours", "-1"], "--hours -1: no time left; give the hours that you have at the bench"),
        (["--room", "1", "--source", "2"], "no lens can be tested in 1 m with a source of 2 mm"),
        (["--lens", "moa"], '--lens "moa" is not in the bag; choose one of: Wren, Dipper'),
        (["--place", "moon"], '--place "moon" is not a place of the bench; choose of: centre, '),
    ],
)
def test_what_cannot_be_planned_is_one_line(folder, capsys, options, line):
    assert run(["plan", str(folder), *options]) == MISTYPED
    error = capsys.readouterr().err.splitlines()
    assert len(error) == 1
    assert error[0].startswith(line)


def test_faults_in_the_plan_table_name_their_line(folder, capsys):
    with (folder / "bench.toml").open("a", encoding="utf-8") as stream:
        stream.write('[plan]\nhours = 0\nreference = "Moa"\n')
    assert run(["plan", str(folder)]) == MISTYPED
    assert "[plan]: hours = 0 is not allowed; allowed: time at the bench" in capsys.readouterr().err
    text = (folder / "bench.toml").read_text("utf-8").replace("hours = 0\n", "")
    (folder / "bench.toml").write_text(text, "utf-8")
    assert run(["plan", str(folder)]) == MISTYPED
    assert 'reference = "Moa" is not in this file' in capsys.readouterr().err


def test_folder_that_cannot_be_written_is_one_line(folder, capsys):
    (folder / "out").write_text("a file")
    assert run(["plan", str(folder)]) == FAILED
    assert "can't be written" in capsys.readouterr().err
