"""Faults in bench.toml in words: which line, which key, what is allowed, what was meant."""

from __future__ import annotations

import difflib
import types
import typing
from collections.abc import Iterable, Mapping
from typing import Any

from pydantic import BaseModel, ValidationError

from nightglass.gear.schema import BenchToml
from nightglass.gear.tomllines import find_line

LONGEST_TYPED = 60
"""Letters of what was typed that a message repeats."""


def explain(error: ValidationError, text: str, raw: Mapping[str, Any]) -> list[str]:
    """Return one line for each key at fault, in the order of the file, without the file's name.

    text: the file; raw: the file as tomllib gave it.
    """
    found: dict[tuple[int, str], str] = {}
    faults = error.errors(include_url=False)
    unknown = [str(fault["loc"][-1]) for fault in faults if fault["type"] == "extra_forbidden"]
    for fault in faults:
        location = tuple(part for part in fault["loc"] if part != "[key]")
        model, key = _table_and_key(location)
        line = find_line(text, location)
        if fault["type"] == "too_short" and location == ("lens",) and raw.get("lens"):
            continue  # follows from the faults inside that [[lens]]
        if fault["type"] == "missing" and difflib.get_close_matches(key, unknown, n=1):
            continue  # it is there, misspelt, and has its own line
        message = _message(fault, model, key)
        found.setdefault((line, key), f"line {line}: {_table_words(location, raw)}{message}")
    return [found[where] for where in sorted(found)]


def near_name(name: str, allowed: Iterable[str]) -> str:
    """Return advice that lists the allowed names, the nearest one first."""
    names = list(allowed)
    near = difflib.get_close_matches(name, names, n=1, cutoff=0.6)
    meant = f'did you mean "{near[0]}"? ' if near else ""
    return f"{meant}Allowed: {', '.join(names)}"


def _table_and_key(location: tuple[str | int, ...]) -> tuple[type[BaseModel], str]:
    """The table's schema and the key in it that a location points at."""
    model: type[BaseModel] = BenchToml
    key = ""
    names = [part for part in location if isinstance(part, str)]
    for part in names:
        key = part
        field = model.model_fields.get(part)
        inner = _model_inside(field.annotation) if field else None
        if inner is None or part is names[-1]:
            break
        model = inner
    return model, key


def _model_inside(annotation: Any) -> type[BaseModel] | None:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    if typing.get_origin(annotation) in (tuple, typing.Union, types.UnionType):
        for argument in typing.get_args(annotation):
            if found := _model_inside(argument):
                return found
    return None


def _table_words(location: tuple[str | int, ...], raw: Mapping[str, Any]) -> str:
    """'[[lens]] "Wren": ' or '[body]: '; empty for the tables themselves."""
    if len(location) < 2:
        return ""
    table = str(location[0])
    if isinstance(location[1], int):
        row = raw[table][location[1]] if isinstance(raw.get(table), list) else {}
        name = row.get("name") or row.get("match") if isinstance(row, dict) else None
        return f"[[{table}]] {_typed(name)}: " if name else f"[[{table}]]: "
    return f"[{table}]: "


def _message(fault: Any, model: type[BaseModel], key: str) -> str:
    kind, context, given = fault["type"], fault.get("ctx", {}), fault["input"]
    field = model.model_fields.get(key)
    allowed = (field.description or "") if field else ""
    if kind == "extra_forbidden":
        return f'"{key}" is not a known key; {near_name(key, model.model_fields)}'
    if kind == "missing" and field is not None and not isinstance(given, list | tuple):
        return f'"{key}" is missing; give {allowed}'
    if kind == "name":
        typed = key if key == "name" or not str(given).strip() else f"{key} = {_typed(given)}"
        return f"{typed} {fault['msg']}; allowed: {allowed}"
    if kind == "string_too_long":
        return (
            f"{key} has {len(given)} letters, at most {context['max_length']}; allowed: {allowed}"
        )
    if kind == "value_error":
        return str(context["error"])
    if field is None:
        return f"{_typed(given)} is not allowed here; it must be a table"
    if (field.description or "").startswith(("a table", "one table", "tables")):
        return f"{key} must be written as {allowed} with its keys on the lines below"
    return f"{key} = {_typed(given)} is not allowed; allowed: {allowed}"


def _typed(value: Any) -> str:
    """A value as the person may have typed it, shortened."""
    if isinstance(value, str):
        words = value.replace("\n", "\\n").replace("\r", "\\r")
        words = words if len(words) <= LONGEST_TYPED else words[: LONGEST_TYPED - 3] + "..."
        return f'"{words}"'
    elif isinstance(value, bool):
        words = str(value).lower()
    elif isinstance(value, list | tuple):
        words = "[" + ", ".join(_typed(part) for part in value) + "]"
    elif isinstance(value, dict):
        words = "{ " + ", ".join(f"{key} = {_typed(part)}" for key, part in value.items()) + " }"
    else:
        words = f"{value}"
    return words if len(words) <= LONGEST_TYPED else words[: LONGEST_TYPED - 3] + "..."
