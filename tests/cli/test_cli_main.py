"""The doors: help, exit codes, errors in one line, start-up."""

import importlib.util
import json
import re
import subprocess
import sys
import time
from pathlib import Path

import pytest

from nightglass.cli.doors import EXIT_CODES, FAILED, MISTYPED, STOPPED, finite
from nightglass.cli.main import COMMANDS, run

HEAVY = ("numpy", "sqlalchemy", "numba", "scipy", "rawpy", "altair", "skyfield")


def test_help_lists_every_command_and_exit_code_without_heavy_libraries():
    code = (
        "import sys; from nightglass.cli.main import run; run(['--help']); "
        f"print([m for m in {HEAVY} if m in sys.modules], file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stderr.strip() == "[]"
    words = " ".join(re.sub("[│╭╮╰╯─]", " ", done.stdout).split())
    for name in COMMANDS:
        assert re.search(rf"\b{name}\b", words), name
    for code, meaning in EXIT_CODES.items():
        assert f"{code} {meaning}" in words


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_its_function_and_says_what_it_does(name, capsys):
    module, line = COMMANDS[name]
    if importlib.util.find_spec(f"nightglass.cli.{module}") is None:
        pytest.skip(f"nightglass.cli.{module} is not part of this installation")
    assert run([name, "--help"]) == 0
    # The demo is a show for people; what it makes can be asked of rank and card.
    assert name == "demo" or "--json" in capsys.readouterr().out
    assert line.endswith(".")


def test_version_and_unknown_command(capsys):
    assert run(["--version"]) == 0
    assert capsys.readouterr().out.startswith("nightglass ")
    assert run(["mesure"]) == MISTYPED
    assert "measure" in capsys.readouterr().err


def test_start_up_is_short():
    began = time.perf_counter()
    subprocess.run([sys.executable, "-m", "nightglass.cli.main", "--version"], check=True)
    # The promise is 1.5 s; twice that, so that a busy machine does not fail it.
    assert time.perf_counter() - began < 3.0


def test_fault_in_bench_file_is_told_in_a_line_each_and_as_json(tmp_path, capsys):
    (tmp_path / "bench.toml").write_text("[body]\nnaem = 3\n")
    assert run(["measure", str(tmp_path), "--json"]) == MISTYPED
    out = capsys.readouterr()
    assert 'bench.toml, line 1: "lens" is missing' in out.err
    assert len(out.err.splitlines()) == 5
    assert 'line 2: [body]: "naem" is not a known key; did you mean "name"?' in out.err
    assert "line 2" in json.loads(out.out)["error"]


def test_missing_folder_and_empty_bench(tmp_path, capsys):
    assert run(["measure", str(tmp_path / "none")]) == MISTYPED
    assert "there is no such folder; make a bench: nightglass new" in capsys.readouterr().err
    assert run(["new", str(tmp_path / "b")]) == 0
    assert run(["measure", str(tmp_path / "b")]) == FAILED
    assert "frames: empty; copy the raw files there" in capsys.readouterr().err


def test_ctrl_c_leaves_one_calm_line(monkeypatch, capsys, tmp_path):
    import nightglass.bench.measuring.measure as room

    run(["new", str(tmp_path / "b")])
    capsys.readouterr()

    def stop(*_args, **_options):
        raise KeyboardInterrupt

    monkeypatch.setattr(room, "measure_folder", stop)
    assert run(["measure", str(tmp_path / "b")]) == STOPPED
    out = capsys.readouterr()
    assert out.err == "Stopped. What is on record stays; the same command goes on from there.\n"
    assert out.out == ""


def test_not_finite_numbers_become_null():
    import numpy as np

    value = {"a": float("nan"), "b": (np.float32(0.5), np.int64(3)), "c": [np.inf], "d": None}
    assert finite(value) == {"a": None, "b": [0.5, 3], "c": [None], "d": None}


def test_only_the_doors_print():
    import nightglass

    root = Path(nightglass.__file__).parent
    printing = [
        path.relative_to(root)
        for path in sorted(root.rglob("*.py"))
        if re.search(r"^\s*print\(", path.read_text("utf-8"), re.MULTILINE)
    ]
    assert {path.parts[0] for path in printing} <= {"cli"}
