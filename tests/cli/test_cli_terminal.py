"""What reaches the terminal: nothing of others steers it, and no encoding stops a command."""

import io
import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

import nightglass
from nightglass.cli import terminal
from nightglass.cli.main import run
from nightglass.cli.terminal import console, guarded, printable, write_over

CLEAR = "\x1b[2J"


def test_control_codes_are_printed_as_they_would_be_typed():
    assert printable(f"Wren{CLEAR}\x07\x9b31m\r\u202eab\u2066\x7f") == (
        "Wren\\x1b[2J\\x07\\x9b31m\\x0d\\u202eab\\u2066\\x7f"
    )
    kept = "Wren\t12 mm\nגלעד نجمة 星 🔭 Ω é"
    assert printable(kept) == kept
    # A byte of a file name that is no UTF-8, as Python carries it.
    assert printable(os.fsdecode(b"caf\xe9.dng")) == "caf\\xe9.dng"


def test_prints_tables_bars_and_lines_to_be_overwritten_are_all_guarded(capsys, monkeypatch):
    from rich.progress import Progress, TextColumn
    from rich.table import Table

    with guarded():
        print(f"print {CLEAR}")  # noqa: T201
        print(f"error {CLEAR}", file=sys.stderr)  # noqa: T201
        sys.stdout.writelines([f"lines {CLEAR}\n"])
        write_over(f"overwritten {CLEAR}")
        table = Table(f"a head {CLEAR}", f"head {printable(CLEAR)}", box=None)
        table.add_row(f"a cell {CLEAR}", f"cell {printable(CLEAR)}")
        console(width_in_pipe=80).print(table)
        screen = console(stderr=True, force_terminal=True)
        with Progress(TextColumn("{task.description}", markup=False), console=screen) as bar:
            bar.add_task(f"bar {printable(CLEAR)}")
            bar.add_task(f"a bar {CLEAR}")
    told = capsys.readouterr()
    for word, stream in (
        ("print", told.out), ("error", told.err), ("lines", told.out), ("overwritten", told.err),
        ("head", told.out), ("cell", told.out), ("bar", told.err),
    ):  # fmt: skip
        assert f"{word} \\x1b[2J" in stream
    assert CLEAR not in told.out + told.err
    # The bar itself still steers the terminal.
    assert "\x1b[" in told.err


@pytest.mark.parametrize("shape", ["measure", "rank", "card"])
def test_control_codes_in_errors_of_every_kind_are_typed_out(shape, tmp_path, capsys):
    folder = tmp_path / f"bench{CLEAR}"
    assert run([shape, str(folder)]) == 2
    assert run([shape, str(tmp_path), f"--{CLEAR}"]) == 2
    assert run([f"x{CLEAR}"]) == 2
    told = capsys.readouterr()
    assert "\x1b" not in told.out + told.err
    assert told.err.count("\\x1b[2J") >= 2


def test_metadata_of_a_frame_reach_table_and_json_without_control_codes(
    fakes, tmp_path, capsys, monkeypatch
):
    frame = tmp_path / f"wren{CLEAR}\x9b.raw"
    frame.write_bytes(b"no raw file")
    assert run(["spot", str(frame)]) == 1
    told = capsys.readouterr()
    assert "wren\\x1b[2J\\x9b.raw" in told.out + told.err
    assert run(["spot", str(frame), "--json"]) == 1
    out = capsys.readouterr().out
    assert not set("\x1b\x9b") & set(out)
    assert json.loads(out)["refused"][0]["file"].endswith(f"wren{CLEAR}\x9b.raw")


def test_only_the_door_makes_consoles_and_writes_to_the_streams():
    root = Path(nightglass.__file__).parent
    past_the_guard = (
        r"rich\.console import Console|typer\.echo\(|sys\.std(out|err)\.write|sys\.__std"
    )
    found = [
        path.relative_to(root).as_posix()
        for path in sorted(root.rglob("*.py"))
        if re.search(past_the_guard, path.read_text("utf-8"))
    ]
    assert found == ["cli/terminal.py"]


def printed(encoding: str, text: str) -> str:
    stream = io.TextIOWrapper(io.BytesIO(), encoding=encoding)
    before, sys.stdout = sys.stdout, stream
    try:
        with guarded():
            print(text, end="")  # noqa: T201
        stream.flush()
        return stream.buffer.getvalue().decode(encoding)
    finally:
        sys.stdout = before


@pytest.mark.parametrize(
    ("encoding", "there"),
    [
        ("latin-1", "Crane Zuraw ± 0.5 px -> <= 30° ? ? ??????? ?"),
        ("ascii", "Crane Zuraw +/- 0.5 px -> <= 30 deg ? ? ??????? ?"),
        ("utf-8", "Crane Żuraw ± 0.5 px → ≤ 30° 星 🔭 Γερανός ☁"),
    ],
)
def test_letters_that_the_output_lacks_are_replaced(encoding, there):
    assert printed(encoding, "Crane Żuraw ± 0.5 px → ≤ 30° 星 🔭 Γερανός ☁") == there


TWO_COMMANDS = """
import sys
from nightglass.cli.main import run
print("\\nnew ended with", run(["new", sys.argv[1]]))
sys.exit(run(sys.argv[2:]))
"""


@pytest.mark.parametrize("environment", [{"PYTHONIOENCODING": "latin-1"}, {"LANG": "C"}, {}])
def test_a_whole_command_survives_any_output(environment, tmp_path):
    base = {k: v for k, v in os.environ.items() if not k.startswith(("LANG", "LC_", "PYTHONIO"))}
    # The last case: C without Python's own change to UTF-8, so that the output is plain ASCII.
    off = {"LC_ALL": "C", "PYTHONCOERCECLOCALE": "0", "PYTHONUTF8": "0"}
    asked = ("night", "--at", "星 ☾", "--json")
    done = subprocess.run(
        [sys.executable, "-c", TWO_COMMANDS, str(tmp_path / "b"), *asked],
        capture_output=True, env=base | (environment or off), check=False,
    )  # fmt: skip
    _, ended, told = done.stdout.partition(b"\nnew ended with 0\n")
    assert ended, done.stderr
    assert done.returncode == 2, done.stderr
    assert b"Traceback" not in done.stderr
    error = json.loads(told.decode("utf-8" if "LANG" in environment else "ascii"))["error"]
    # JSON loses nothing: it writes what the encoding lacks as \u.... (With plain C the letters
    # arrive as bytes and stay so.)
    assert "星" in error or not environment


def test_the_handler_knows_our_own_signs():
    assert all(len(sign) == 1 and words.isascii() for sign, words in terminal.REPLACEMENTS.items())
