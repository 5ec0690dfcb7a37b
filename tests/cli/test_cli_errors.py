"""Errors of the command line: every command, as words and as plain data, with its exit code."""

import json

import pytest

from nightglass.cli.doors import DONE, FAILED, MISTYPED
from nightglass.cli.main import COMMANDS, run

WITH_DATA = [name for name in COMMANDS if name != "demo"]


def error_of(arguments, capsys):
    """Run with --json and return code, data and the error output."""
    code = run([*arguments, "--json"])
    told = capsys.readouterr()
    return code, json.loads(told.out), told.err


@pytest.mark.parametrize("command", WITH_DATA)
def test_a_mistyped_option_gives_exit_code_2_and_data(command, capsys):
    code, data, err = error_of([command, "--jsno"], capsys)
    assert code == MISTYPED
    assert data == {"error": err.strip(), "code": MISTYPED}
    assert data["error"] == (
        f"there is no option --jsno; did you mean --json? See:  nightglass {command} --help"
    )


def test_an_unknown_command_names_the_near_one_or_all(capsys):
    code, data, _err = error_of(["mesure"], capsys)
    assert (code, data["code"]) == (MISTYPED, MISTYPED)
    assert (
        data["error"] == "there is no command mesure; did you mean measure? See:  nightglass --help"
    )
    _code, data, _err = error_of(["xyzzy"], capsys)
    assert data["error"].startswith("there is no command xyzzy; allowed: open, new, plan, watch,")


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["rank", "--limit", "abc"], '--limit: "abc" is not a number; give: largest blur that you'),
        (["rank", "--limit"], '--limit: "--json" is not a number; give: largest blur'),
        (
            ["rank", "--view", "map"],
            "--view: 'map' is not one of 'picture', 'sky'; give: \"picture\"",
        ),
        (
            ["measure", "--workers", "2.5"],
            '--workers: "2.5" is not a whole number; give: processes',
        ),
        (
            ["measure", "--workers", "0"],
            '--workers: "0" is too small, 1 is the least; give: processes',
        ),
        (
            ["spot"],
            "FILES is missing; give: raw files, or TIFF, PNG, JPEG, FITS. See:  nightglass",
        ),
        (["new"], "FOLDER is missing; give: folder to make, or an existing one"),
        (["measure", "my", "bench"], "too much was typed: bench; put names with spaces in quotes"),
        (
            ["sky", "--pitch-um", "x"],
            '--pitch-um: "x" is not a number; give: pixel pitch, if known',
        ),
        (["spot", "a.dng", "--near", "5"], '--near: "--json" is not a number; give: where'),
    ],
)
def test_mistyped_values_say_what_is_allowed(arguments, words, capsys):
    code, data, err = error_of([arguments[0], *arguments[1:]], capsys)
    assert code == MISTYPED
    assert data["error"].startswith(words), data["error"]
    assert err.strip() == data["error"]


def test_nothing_typed_is_help(capsys):
    assert run([]) == DONE
    assert "measure" in capsys.readouterr().out


def test_a_stop_is_data_too(monkeypatch, capsys, tmp_path):
    import nightglass.bench.measuring.measure as room

    def stop(*_args, **_options):
        raise KeyboardInterrupt

    run(["new", str(tmp_path / "b")])
    capsys.readouterr()
    monkeypatch.setattr(room, "measure_folder", stop)
    code, data, _err = error_of(["measure", str(tmp_path / "b")], capsys)
    assert code == data["code"] == 130
    assert data["error"].startswith("Stopped. What is on record stays")


def test_what_can_not_be_done_is_data_too(tmp_path, capsys):
    bench = str(tmp_path / "b")
    assert run(["new", bench]) == DONE
    capsys.readouterr()
    missing = str(tmp_path / "no.dng")
    for command, folder in (
        ("new", bench), ("measure", bench), ("rank", bench), ("card", bench),
        ("spot", missing), ("sky", missing),
    ):  # fmt: skip
        code, data, _err = error_of([command, folder], capsys)
        assert (code, data["code"]) == (FAILED, FAILED), command
        assert data["error"], command
