"""Imports go one way: the tables of docs/house.md against what the source tree really imports."""

from __future__ import annotations

import ast
import re
from functools import cache
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
    """Return the modules below nightglass that a file imports anywhere, in functions too.

    "from nightglass.plan import dates" may name a module or something inside one: both are given
    as written, and `allowed` takes the room from their front.
    """
    found: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom):
            assert node.level == 0, "relative imports hide the room: write nightglass.room.module"
            parts = (node.module or "").split(".")
            folder = SOURCE.parent.joinpath(*parts).is_dir()
            names = [[*parts, a.name] for a in node.names] if folder else [parts]
        elif isinstance(node, ast.Import):
            names = [alias.name.split(".") for alias in node.names]
        else:
            continue
        found |= {".".join(n[1:]) for n in names if n[0] == "nightglass" and len(n) > 1}
    return found


def source_files() -> list[Path]:
    return sorted(path for path in SOURCE.rglob("*.py") if path.parent != SOURCE)


FILES = {path.relative_to(SOURCE).as_posix(): path for path in source_files()}


@cache
def imports_of(file: str) -> set[str]:
    """Read a file when it is asked for: every worker collects, one of them tests."""
    return imported_modules(ast.parse(FILES[file].read_text("utf-8")))


def room_of(module: str) -> str:
    """Return the innermost room of the table that holds a module, named with dots."""
    parts = module.split(".")
    names = (".".join(parts[:k]) for k in range(len(parts), 0, -1))
    return next((name for name in names if name in ROOMS), parts[0])


def module_of(file: str) -> str:
    return file.removesuffix(".py").replace("/", ".")


def allowed(module: str, imported: str) -> bool:
    """Whether a module may import another: by its room's row, or as one of its own room."""
    own = room_of(module)
    may = [*ROOMS[own], own]
    names = [imported.split(".")[:k] for k in range(1, imported.count(".") + 2)]
    return "everything" in may or any(".".join(name) in may for name in names)


def test_every_room_of_the_table_exists_and_the_reverse() -> None:
    folders = {file.split("/")[0] for file in FILES}
    assert folders == {room.split(".")[0] for room in ROOMS}, (
        "rooms of src/nightglass and of docs/house.md differ: add or remove the row"
    )
    missing = {room for room in ROOMS if not (SOURCE / room.replace(".", "/")).is_dir()}
    assert not missing, f"docs/house.md has rows for rooms that are no folders: {missing}"


@pytest.mark.parametrize("file", FILES)
def test_imports_keep_to_the_table(file: str) -> None:
    room = room_of(module_of(file))
    wrong = {
        module
        for module in imports_of(file)
        if not allowed(module_of(file), module) and (file, module) not in EXCEPTIONS
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
        if file not in FILES or module not in imports_of(file) or allowed(module_of(file), module)
    }
    assert not unused, f"take these rows out of Exceptions in docs/house.md: {unused}"


def test_every_exception_has_a_reason() -> None:
    assert all(len(row) == 3 and row[2] for row in rows_under("Exceptions"))


def test_rooms_hang_together_without_a_circle() -> None:
    """Top rooms by their imports; the rooms inside one by theirs."""
    for inside in ("", *(room for room in ROOMS if "." not in room)):
        below = circle_free(inside)
        while below:
            bottom = {room for room, under in below.items() if not under}
            assert bottom, f"these rooms import each other in a circle: {below}"
            below = {room: under - bottom for room, under in below.items() if room not in bottom}


def circle_free(inside: str) -> dict[str, set[str]]:
    """Return what every room imports of the others: of the top ones, or of those inside a room."""

    def name(module: str) -> str:
        return room_of(module) if inside else module.split(".")[0]

    below: dict[str, set[str]] = {}
    for file in FILES:
        own = name(module_of(file))
        if inside and not own.startswith(f"{inside}."):
            continue
        kept = {name(m) for m in imports_of(file)}
        below.setdefault(own, set()).update(
            m for m in kept - {own} if not inside or m.startswith(f"{inside}.")
        )
    return below


def test_only_the_demo_command_reads_the_scene() -> None:
    readers = {
        file
        for file in FILES
        if any(module.split(".")[0] == FOR_THE_DEMO for module in imports_of(file))
        and not file.startswith(f"{FOR_THE_DEMO}/")
    }
    assert readers == {"cli/demo.py"}
