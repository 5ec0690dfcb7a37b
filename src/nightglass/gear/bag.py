"""Reading bench.toml: the bag of gear and the person's choices, or errors that name the line."""

from __future__ import annotations

import itertools
import tomllib
import unicodedata
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ValidationError

from nightglass.gear.benchfile import (
    BenchFile,
    BenchNotes,
    FrameRule,
    LimitChoice,
    Place,
    Purpose,
    ScoreChoice,
    SessionChoice,
    Site,
    SkyChoice,
    TimeChoice,
    place_by_radius,
)
from nightglass.gear.body import Body
from nightglass.gear.lens import Lens, LensSetting
from nightglass.gear.purpose_words import purpose_of
from nightglass.gear.schema import (
    BenchToml,
    BodyTable,
    FramesTable,
    LensTable,
    PlaceTable,
)
from nightglass.gear.schema_choices import PurposeTable, ScoreTable, TimeTable
from nightglass.gear.sensorfile import SensorFileError, read_sensor_file, with_measured
from nightglass.gear.tomlerrors import explain, near_name
from nightglass.gear.tomllines import find_line

__all__ = [
    "BENCH_FILE_NAME",
    "BenchFile",
    "BenchFileError",
    "parse_bench",
    "read_bench_file",
    "read_typed_bench",
]

BENCH_FILE_NAME = "bench.toml"


class BenchFileError(ValueError):
    """bench.toml is missing or can't be used; `problems` holds one line for each fault."""

    def __init__(self, problems: Sequence[str]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(self.problems))


def read_bench_file(path: str | Path) -> BenchFile:
    """Return what a bench.toml (or the one in a bench folder) says, checked.

    Where sensor.json lies beside it, the body has what was measured of its sensor, in places where
    nothing was typed. Raises BenchFileError, naming file, line, key and what is allowed, when the
    file is missing, is not TOML, or says what can't be; also for a sensor.json that can't be used.
    """
    bench = read_typed_bench(path)
    try:
        body, *others = with_measured(bench.bodies, read_sensor_file(bench.folder))
    except SensorFileError as error:
        raise BenchFileError([str(error)]) from None
    return replace(bench, body=body, other_bodies=tuple(others))


def read_typed_bench(path: str | Path) -> BenchFile:
    """Return what a bench.toml says by itself, without what was measured of the sensor.

    Raises BenchFileError as read_bench_file does.
    """
    file = Path(path)
    if file.suffix.lower() != ".toml":
        file = file / BENCH_FILE_NAME
    if file.parent.exists() and not file.parent.is_dir():
        raise BenchFileError(
            [f"{file.parent}: a file, not a folder; name the folder that holds {BENCH_FILE_NAME}"]
        )
    make = f'nightglass new "{file.parent}"'
    if not file.parent.is_dir():
        raise BenchFileError([f"{file.parent}: there is no such folder; make a bench: {make}"])
    try:
        text = file.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        raise BenchFileError(
            [f"{file.parent}: no {BENCH_FILE_NAME} here; make one: {make}"]
        ) from None
    except UnicodeDecodeError:
        raise BenchFileError([f"{file}: not written in UTF-8; save it as UTF-8 text"]) from None
    except OSError as error:
        raise BenchFileError(
            [f"{file}: can't be read ({error.strerror}); check that you may read it"]
        ) from None
    return parse_bench(text, file)


def parse_bench(text: str, path: Path | None = None) -> BenchFile:
    """Return what the text of a bench.toml says; path is for messages and for the folder.

    Raises BenchFileError like read_bench_file.
    """
    label = path.name if path else BENCH_FILE_NAME
    try:
        raw = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise BenchFileError([_not_toml(label, text, error)]) from None
    try:
        read = BenchToml.model_validate(raw)
    except ValidationError as error:
        raise BenchFileError(
            [f"{label}, {problem}" for problem in explain(error, text, raw)]
        ) from None
    problems = _cross_checks(read, text)
    if problems:
        raise BenchFileError([f"{label}, {problem}" for problem in problems])
    return _records(read, text, path)


def _not_toml(label: str, text: str, error: tomllib.TOMLDecodeError) -> str:
    line = getattr(error, "lineno", None) or _line_in(str(error)) or len(text.splitlines())
    cause = str(error).split(" (at ")[0]
    advice = 'texts need quotes, numbers a point, key and value an "=" between them'
    return f"{label}, line {line}: not valid TOML: {cause}; {advice}"


def _line_in(message: str) -> int | None:
    words = message.replace(",", " ").split()
    for before, word in itertools.pairwise(words):
        if before == "line" and word.isdigit():
            return int(word)
    return None


def _cross_checks(read: BenchToml, text: str) -> list[str]:
    """Names that must be unique, or must be those of another table."""
    problems = []
    for table, rows in (("lens", read.lens), ("place", read.place)):
        names = [_folded(row.name) for row in rows]
        problems += [
            f'line {find_line(text, (table, k, "name"))}: [[{table}]] "{rows[k].name}" is there '
            "twice; give each its own name (two copies: add the serial or a letter)"
            for k, name in enumerate(names)
            if name in names[:k]
        ]
    bodies = (read.body, *read.other_body)
    body_names = [_folded(row.name) for row in bodies]
    problems += [
        f'line {find_line(text, ("other_body", k, "name"))}: [[other_body]] "{row.name}" is there '
        "twice; give each body a name of its own (two of one model: add the serial or a letter)"
        for k, row in enumerate(read.other_body)
        if body_names[k + 1] in body_names[: k + 1]
    ]
    known: dict[str, list[str]] = {
        "lens": [row.name for row in read.lens],
        "body": [name for row in bodies for name in (row.name, *row.recorded_as)],
    }
    for k, row in enumerate(read.frames):
        problems += [
            f"line {find_line(text, ('frames', k, key))}: [[frames]] {key} = "
            f'"{getattr(row, key)}" is not in this file; {near_name(getattr(row, key), allowed)}'
            for key, allowed in known.items()
            if getattr(row, key) is not None and getattr(row, key) not in allowed
        ]
    reference = read.score.reference
    if reference is not None and reference.lens not in known["lens"]:
        problems.append(
            f"line {find_line(text, ('score', 'reference', 'lens'))}: [score] reference: lens "
            f'"{reference.lens}" is not in this file; {near_name(reference.lens, known["lens"])}'
        )
    planned = read.plan.reference
    if planned is not None and planned not in known["lens"]:
        problems.append(
            f"line {find_line(text, ('plan', 'reference'))}: [plan] reference = "
            f'"{planned}" is not in this file; {near_name(planned, known["lens"])}'
        )
    return problems


def _folded(name: str) -> str:
    return unicodedata.normalize("NFC", " ".join(name.split())).casefold()


def _records(read: BenchToml, text: str, path: Path | None) -> BenchFile:
    body = _body(read.body)
    lenses = tuple(_lens(row) for row in read.lens)
    return BenchFile(
        body=body,
        other_bodies=tuple(_body(row) for row in read.other_body),
        lenses=lenses,
        places=tuple(_place(row, body) for row in read.place),
        frames=tuple(
            _rule(row, find_line(text, ("frames", k))) for k, row in enumerate(read.frames)
        ),
        bench=BenchNotes(**_values(read.bench)),
        purpose=_purpose(read.purpose),
        limit=_limit(read.purpose),
        time=_time(read.time),
        score=_score(read.score, body, lenses),
        sky=SkyChoice(**_values(read.sky)),
        site=Site(
            place=read.site.place,
            zone=read.site.zone,
            height_m=read.site.height_m,
            horizon_degrees=read.site.horizon,
            name=read.site.name or "",
        ),
        plan=SessionChoice(**_values(read.plan)),
        path=path,
    )


def _values(table: BaseModel) -> dict[str, Any]:
    return table.model_dump()


def _body(row: BodyTable) -> Body:
    return Body(**{**_values(row), "iso_steps": tuple(sorted(row.iso_steps))})


def _lens(row: LensTable) -> Lens:
    values = _values(row)
    focal, f_number = values.pop("focal_mm"), values.pop("f_number")
    return Lens(
        focal_mm_min=focal[0],
        focal_mm_max=focal[1],
        f_number_min_wide=f_number[0],
        f_number_min_long=f_number[1],
        **values,
    )


def _place(row: PlaceTable, body: Body) -> Place:
    if row.x_percent is not None and row.y_percent is not None:
        return Place(row.name, row.x_percent, row.y_percent, row.within_percent)
    return place_by_radius(
        row.name, row.field_radius or 0.0, row.direction_degrees or 0.0, body, row.within_percent
    )


def _rule(row: FramesTable, line: int) -> FrameRule:
    values = _values(row)
    return FrameRule(near_px=values.pop("near"), line=line, **values)


def _purpose(row: PurposeTable) -> Purpose:
    return purpose_of(row.words or "") or Purpose()


def _limit(row: PurposeTable) -> LimitChoice | None:
    if row.limit_percent is None:
        return None
    return LimitChoice(row.limit_percent, row.limit_on, row.limit_at)


def _time(row: TimeTable) -> TimeChoice:
    return TimeChoice(**_values(row))


def _score(row: ScoreTable, body: Body, lenses: tuple[Lens, ...]) -> ScoreChoice:
    b = 1 - row.a if row.b is None else row.b
    if row.reference is None:
        return ScoreChoice(row.a, b)
    lens = next(lens for lens in lenses if lens.name == row.reference.lens)
    focal = row.reference.focal_mm or lens.focal_mm_min
    return ScoreChoice(row.a, b, LensSetting(body.name, lens.name, focal, row.reference.f_number))
