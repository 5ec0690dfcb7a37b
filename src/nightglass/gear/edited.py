"""Changing bench.toml as a person would: remarks and order stay, the new text is checked first."""

from __future__ import annotations

import hashlib
import os
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AoT, Table

from nightglass.gear.bag import BENCH_FILE_NAME, BenchFileError, parse_bench
from nightglass.gear.benchfile import BenchFile

Document = tomlkit.TOMLDocument
Change = Callable[[Document], None]
LOCK_WAIT_S = 5.0
CHANGED_SINCE = (
    "bench.toml was changed since this was shown to you (in another tab, by a command or in an "
    "editor); nothing was written. Look at what it says now, then try again"
)


class ChangedSinceError(ValueError):
    """bench.toml is no longer what the person was shown."""


def state_of(bench: BenchFile) -> str:
    """Return a stamp of bench.toml as it lies there; "" where it is gone or was never on disk."""
    try:
        return _stamp((bench.path or Path(BENCH_FILE_NAME)).read_bytes())
    except OSError:
        return ""


def change_bench(bench: BenchFile, seen: str, change: Change) -> BenchFile:
    """Change bench.toml and return what it says then; remarks that a person wrote stay.

    seen: its stamp (state_of) when it was shown. The file is replaced once the new text was read
    back without an error. Raises ChangedSinceError, nothing written, for a file that has changed
    since; BenchFileError for a change that can't be used, or OSError.
    """
    file = bench.path or Path(BENCH_FILE_NAME)
    with _alone(file):
        before = file.read_bytes()
        if _stamp(before) != seen:
            raise ChangedSinceError(CHANGED_SINCE)
        try:
            document = tomlkit.parse(before.decode("utf-8-sig"))
        except TOMLKitError as error:
            raise BenchFileError([f"{file.name}: not valid TOML: {error}"]) from None
        change(document)
        text = tomlkit.dumps(document)
        after = parse_bench(text, file)
        _put(file, text.encode(), before)
    return after


def undo_change(bench: BenchFile, seen: str) -> BenchFile:
    """Put back what bench.toml said before the last change; another undo puts that one back.

    Raises as change_bench does; FileNotFoundError where nothing was changed yet.
    """
    file = bench.path or Path(BENCH_FILE_NAME)
    with _alone(file):
        now, earlier = file.read_bytes(), _kept_before(file).read_bytes()
        if _stamp(now) != seen:
            raise ChangedSinceError(CHANGED_SINCE)
        after = parse_bench(earlier.decode("utf-8-sig"), file)
        _put(file, earlier, now)
    return after


def can_undo(bench: BenchFile) -> bool:
    """Whether there is a text from before the last change."""
    return bench.path is not None and _kept_before(bench.path).exists()


def leave_out(path: str, reason: str) -> Change:
    """Return the change that keeps a frame (its name below frames/) out, with the reason."""

    def change(document: Document) -> None:
        take_in(path)(document)
        rows = document.get("frames")
        if not isinstance(rows, AoT):
            rows = tomlkit.aot()
            document["frames"] = rows
        row = tomlkit.table()
        row["match"] = exactly(path)
        row["leave_out"] = reason
        rows.append(row)

    return change


def take_in(path: str) -> Change:
    """Return the change that takes back what leave_out has said of a frame."""

    def change(document: Document) -> None:
        rows = document.get("frames")
        if not isinstance(rows, AoT):
            return
        for k in reversed(range(len(rows))):
            row = rows[k]
            if row.get("match") == exactly(path) and "leave_out" in row:
                del row["leave_out"]
                if set(row) == {"match"}:
                    del rows[k]
        if not rows:
            del document["frames"]

    return change


def with_values(table: str, **values: Any) -> Change:
    """Return the change that sets keys of a table, made at the end if need be; None drops one."""

    def change(document: Document) -> None:
        if table not in document:
            document[table] = tomlkit.table()
        rows = document[table]
        assert isinstance(rows, Table)
        for key, value in values.items():
            if value is not None:
                rows[key] = value
            elif key in rows:
                del rows[key]

    return change


def with_lens(name: str, focal_mm: Any, f_number: Any) -> Change:
    """Return the change that adds a lens behind the others."""

    def change(document: Document) -> None:
        row = tomlkit.table()
        row["name"], row["focal_mm"], row["f_number"] = name, focal_mm, f_number
        rows = document["lens"]
        assert isinstance(rows, AoT)
        rows.append(row)

    return change


def exactly(path: str) -> str:
    """Return the pattern that fits this name and no other."""
    return "".join(f"[{c}]" if c in "*?[" else c for c in path)


@contextmanager
def _alone(file: Path) -> Iterator[None]:
    """Keep other writers of this program away, in other tabs and other processes."""
    lock, end = file.with_name(f".{file.name}.lock"), time.monotonic() + LOCK_WAIT_S
    while True:
        try:
            os.close(os.open(lock, os.O_CREAT | os.O_EXCL | os.O_WRONLY))
            break
        except FileExistsError:
            # Nobody writes for so long: what made it was killed.
            if time.monotonic() > end:
                lock.unlink(missing_ok=True)
            time.sleep(0.02)
    try:
        yield
    finally:
        lock.unlink(missing_ok=True)


def _stamp(content: bytes) -> str:
    return hashlib.blake2b(content, digest_size=12).hexdigest()


def _kept_before(file: Path) -> Path:
    return file.with_name(f".{file.name}.before")


def _put(file: Path, content: bytes, before: bytes) -> None:
    """Write the new text in one step, and keep the old one beside it."""
    for target, text in ((_kept_before(file), before), (file, content)):
        unfinished = target.with_name(f".{file.name}.unfinished")
        try:
            with unfinished.open("wb") as stream:
                stream.write(text)
                stream.flush()
                os.fsync(stream.fileno())
            os.replace(unfinished, target)
        finally:
            unfinished.unlink(missing_ok=True)
