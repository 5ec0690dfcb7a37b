"""Answers to questions lie in answers/ beside the bench: the next run of the page shows them.

One file for each question and what was asked of it, written beside and moved into place. While a
question is being answered a file says so; where it is still there later, the work was cut off.
"""

from __future__ import annotations

import hashlib
import os
import secrets
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from nightglass.bench.files import find_files
from nightglass.bench.kept import as_record
from nightglass.bench.store.packing import pack
from nightglass.gear.benchfile import BenchFile
from nightglass.gear.edited import state_of
from nightglass.gear.sensorfile import SENSOR_FILE_NAME
from nightglass.page.jobs import Told
from nightglass.page.shown import moment

FOLDER = "answers"
BEGUN, ENDING = "begun", ".answer"
MOST_KEPT = 30
"""Of each question; the oldest go."""


@dataclass(frozen=True)
class Answer:
    """What was asked, what came of it, when, and what it was made of."""

    typed: dict[str, str]
    told: Told
    """Its files below the folder of the bench."""
    at: str
    """Local time."""
    behind: dict[str, str]
    """Stamps of what it was made of, by name."""


@dataclass(frozen=True)
class Begun:
    """A question whose answer was cut off."""

    typed: dict[str, str]
    at: str


def behind(bench: BenchFile, drop: str, measured: int) -> dict[str, str]:
    """Return stamps of what answers of a bench are made of; drop: folder of the step's files."""
    stamps = {"bench.toml": state_of(bench), "what is measured": str(measured)}
    sensor = bench.folder / SENSOR_FILE_NAME
    if drop != "sensor" and sensor.is_file():
        # The question of the sensor writes it itself.
        stamps[SENSOR_FILE_NAME] = _digest(sensor.read_bytes())
    if drop:
        folder = bench.folder / drop
        files = find_files(folder).files if folder.is_dir() else ()
        listed = [(file.path, file.size_bytes, file.modified_ns) for file in files]
        stamps[f"the files in {drop}/"] = _digest(repr(sorted(listed)).encode())
    return stamps


def changed(answer: Answer, now: Mapping[str, str]) -> tuple[str, ...]:
    """Return what has changed since an answer was made, by name."""
    return tuple(
        name for name in {**answer.behind, **now} if answer.behind.get(name) != now.get(name)
    )


def begin(bench: BenchFile, ask: str, typed: Mapping[str, str]) -> None:
    """Note that a question is being answered. Raises OSError."""
    _put(_folder(bench, ask) / BEGUN, Begun(dict(typed), _now()))


def end(bench: BenchFile, ask: str) -> None:
    """Note that nothing is left to do of a question."""
    (_folder(bench, ask) / BEGUN).unlink(missing_ok=True)


def cut_off(bench: BenchFile, ask: str) -> Begun | None:
    """Return what was asked when the answer was cut off, or None."""
    return as_record(_content(_folder(bench, ask) / BEGUN), Begun)


def keep(
    bench: BenchFile, ask: str, typed: Mapping[str, str], told: Told, made_of: dict[str, str]
) -> None:
    """Keep an answer; the one before to the same words is replaced. Raises OSError."""
    folder = _folder(bench, ask)
    below = (f.relative_to(bench.folder) for f in told.files if f.is_relative_to(bench.folder))
    answer = Answer(dict(typed), replace(told, files=tuple(below)), _now(), made_of)
    asked = _digest(repr(sorted(typed.items())).encode())
    _put(folder / f"{asked}{ENDING}", answer)
    for old in _newest_first(folder)[MOST_KEPT:]:
        old.unlink(missing_ok=True)


def last(bench: BenchFile, ask: str) -> Answer | None:
    """Return the answer given last to a question, or None; what can't be read counts as none."""
    for file in _newest_first(_folder(bench, ask)):
        found = as_record(_content(file), Answer)
        if found is not None and isinstance(found.told, Told):
            return found
    return None


def kept_ns(bench: BenchFile, ask: str) -> int | None:
    """Return when a question was answered last [ns since 1970], or None."""
    newest = _newest_first(_folder(bench, ask))[:1]
    return newest[0].stat().st_mtime_ns if newest else None


def _folder(bench: BenchFile, ask: str) -> Path:
    return bench.folder / FOLDER / ask


def _newest_first(folder: Path) -> list[Path]:
    def changed_ns(file: Path) -> int:
        try:
            return file.stat().st_mtime_ns
        except FileNotFoundError:
            return 0

    return sorted(folder.glob(f"*{ENDING}"), key=changed_ns, reverse=True)


def _put(file: Path, record: object) -> None:
    file.parent.mkdir(parents=True, exist_ok=True)
    beside = file.with_name(f".{file.name}.{secrets.token_hex(4)}")
    try:
        beside.write_bytes(pack(record))
        os.replace(beside, file)
    finally:
        beside.unlink(missing_ok=True)


def _content(file: Path) -> bytes | None:
    try:
        return file.read_bytes()
    except OSError:
        return None


def _now() -> str:
    return moment(datetime.now())


def _digest(content: bytes) -> str:
    return hashlib.blake2b(content, digest_size=12).hexdigest()
