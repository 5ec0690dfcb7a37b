"""Imports go one way: the tables of docs/house.md against what the source tree really imports."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

PROJECT = Path(__file__).parents[1]
SOURCE = PROJECT / "src" / "nightglass"
HOUSE = PROJECT / "docs" / "house.md"
FOR_THE_DEMO = "scene"
"""Makes frames with known truth: whoever measures or judges must not see it."""


def rows_under(heading: str) -> list[list[str]]:
    """Return the cells of the table below a heading of docs/house.md, its two head rows left out.

    The text is that of the document: it is the one place where the table stands.
    """
    text = HOUSE.read_text(encoding="utf-8")
    section = re.split(r"^## ", text.split(f"## {heading}\n")[1], flags=re.MULTILINE)[0]
    lines = [line for line in section.splitlines() if line.startswith("|")]
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in lines[2:]]


ROOMS = {name: what.split(", ") for name, _, what in rows_under("Rooms")}
EXCEPTIONS = {(file, module) for file, module, _ in rows_under("Exceptions")}


def imported_modules(tree: ast.Module) -> set[str]:
    """Return the modules below nightglass that a file imports anywhere, in functions too."""
    found: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom):
            assert node.level == 0, "relative imports hide the room: write nightglass.room.module"
            parts = (node.module or "").split(".")
            # "from nightglass.sky import trail" names the module last.
            names = [[*parts, a.name] for a in node.names] if len(parts) < 3 else [parts]
        elif isinstance(node, ast.Import):
            names = [alias.name.split(".") for alias in node.names]
        else:
            continue
        found |= {".".join(n[1:3]) for n in names if n[0] == "nightglass" and len(n) > 1}
    return found


def source_files() -> list[Path]:
    return sorted(path for path in SOURCE.rglob("*.py") if path.parent != SOURCE)


IMPORTS = {
    path.relative_to(SOURCE).as_posix(): imported_modules(ast.parse(path.read_text("utf-8")))
    for path in source_files()
}


def allowed(room: str, module: str) -> bool:
    target = module.split(".")[0]
    may = ROOMS[room]
    return target == room or "everything" in may or target in may or module in may


def test_every_room_of_the_table_exists_and_the_reverse() -> None:
    assert {file.split("/")[0] for file in IMPORTS} == set(ROOMS), (
        "rooms of src/nightglass and of docs/house.md differ: add or remove the row"
    )


@pytest.mark.parametrize("file", IMPORTS)
def test_imports_keep_to_the_table(file: str) -> None:
    room = file.split("/")[0]
    wrong = {
        module
        for module in IMPORTS[file]
        if not allowed(room, module) and (file, module) not in EXCEPTIONS
    }
    assert not wrong, (
        f"{file} imports {', '.join(sorted(wrong))}, but {room} may import "
        f"{', '.join(ROOMS[room])} (docs/house.md): move the code to a room below, or hand the "
        "values in as arguments"
    )


def test_no_exception_outlives_its_need() -> None:
    unused = {
        (file, module)
        for file, module in EXCEPTIONS
        if module not in IMPORTS.get(file, set()) or allowed(file.split("/")[0], module)
    }
    assert not unused, f"take these rows out of Exceptions in docs/house.md: {unused}"


def test_every_exception_has_a_reason() -> None:
    assert all(len(row) == 3 and row[2] for row in rows_under("Exceptions"))


def test_rooms_hang_together_without_a_circle() -> None:
    below = {
        room: {m.split(".")[0] for file in IMPORTS if file.startswith(f"{room}/")
               for m in IMPORTS[file]} - {room}
        for room in ROOMS
    }  # fmt: skip
    while below:
        bottom = {room for room, under in below.items() if not under}
        assert bottom, f"these rooms import each other in a circle: {below}"
        below = {room: under - bottom for room, under in below.items() if room not in bottom}


def test_only_the_demo_command_reads_the_scene() -> None:
    readers = {
        file
        for file, modules in IMPORTS.items()
        if any(module.split(".")[0] == FOR_THE_DEMO for module in modules)
        and not file.startswith(f"{FOR_THE_DEMO}/")
    }
    assert readers == {"cli/demo.py"}
