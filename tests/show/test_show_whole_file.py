"""A full disk leaves the old file or the new one, never half of one: charts, tables and pages."""

from __future__ import annotations

import ast
import errno
from pathlib import Path

import pytest

from nightglass.show.outlined import write_picture
from nightglass.show.page import write_page
from nightglass.show.whole_file import write_whole

SHOW = Path(__file__).parents[2] / "src" / "nightglass" / "show"
PICTURE = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="40" height="30">'
    '<rect width="9" height="9"/></svg>'
)


@pytest.fixture
def full_disk(monkeypatch):
    """Half of what is written still fits."""
    plain = Path.write_bytes

    def half(path, content):
        plain(path, content[: len(content) // 2])
        raise OSError(errno.ENOSPC, "No space left on device", str(path))

    def fill():
        monkeypatch.setattr(Path, "write_bytes", half)

    return fill


def test_a_full_disk_leaves_what_was_there(tmp_path, full_disk):
    svg, png, page = (tmp_path / name for name in ("a.svg", "a.png", "p.html"))
    write_picture(PICTURE, svg, png)
    write_page("<p>old</p>", page)
    before = {path: path.read_bytes() for path in (svg, png, page)}
    full_disk()
    for write in (
        lambda: write_picture(PICTURE.replace("9", "7"), svg, png),
        lambda: write_page("<p>new, and longer</p>", page),
        lambda: write_whole(tmp_path / "new.csv", b"a,b"),
    ):
        with pytest.raises(OSError, match="No space left"):
            write()
    assert {path: path.read_bytes() for path in tmp_path.iterdir()} == before


def test_a_stop_half_way_leaves_no_part_behind(tmp_path, monkeypatch):
    def stopped(path, target):
        raise KeyboardInterrupt

    monkeypatch.setattr(Path, "replace", stopped)
    with pytest.raises(KeyboardInterrupt):
        write_whole(tmp_path / "a.svg", b"new")
    assert list(tmp_path.iterdir()) == []


def test_nothing_in_show_is_written_another_way():
    writers = {
        f"{path.relative_to(SHOW).as_posix()}:{node.lineno}"
        for path in SHOW.rglob("*.py")
        if path.name != "whole_file.py"
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if (isinstance(node, ast.Attribute) and node.attr in ("write_text", "write_bytes"))
        or (isinstance(node, ast.Call) and getattr(node.func, "id", "") == "open")
    }
    assert not writers, "use write_whole (show/whole_file.py)"
