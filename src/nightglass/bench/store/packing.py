"""Frozen records as bytes and back, for what the store keeps.

JSON with arrays beside it, no pickle: a file that somebody mails must not be able to run anything.
Only frozen dataclasses and enums of this package are made again, and only if they still have the
fields that they were packed with; a record whose layout has changed is not read but measured again.
"""

from __future__ import annotations

import base64
import dataclasses
import importlib
import io
import json
import zlib
from datetime import datetime
from enum import Enum
from pathlib import Path
from typing import Any

import numpy as np

PACKAGE = "nightglass."
FORMAT = 1
"""Counts up with any change to how values are written."""


class LayoutError(ValueError):
    """The content was packed by a version whose records had other fields."""


def pack(value: Any) -> bytes:
    """Return a value as bytes: None, numbers, text, times, paths, enums, arrays, tuples, lists,
    dicts, and dataclasses of this package that hold such.

    Raises TypeError for anything else.
    """
    text = json.dumps({"format": FORMAT, "value": _plain(value)}, separators=(",", ":"))
    return zlib.compress(text.encode("utf-8"))


def unpack(content: bytes) -> Any:
    """Return what was packed. Raises LayoutError where it can't be read as it was meant."""
    try:
        found = json.loads(zlib.decompress(content))
        if found["format"] != FORMAT:
            raise LayoutError(f"packed in format {found['format']}; this version reads {FORMAT}")
        return _value(found["value"])
    except (zlib.error, KeyError, TypeError, ValueError, ImportError, AttributeError) as error:
        raise LayoutError(f"kept content can't be read ({error}); measure again") from error


def _plain(value: Any) -> Any:
    if value is None or (
        isinstance(value, (bool, int, str, float)) and not isinstance(value, Enum)
    ):
        # numpy's float64 is a float, and text forms of a StrEnum must not lose their class.
        return float(value) if isinstance(value, float) else value
    if isinstance(value, (np.integer, np.floating, np.bool_)):
        return _plain(value.item())
    if isinstance(value, Enum):
        return {"enum": _name(type(value)), "of": value.name}
    if isinstance(value, np.ndarray):
        return {"array": _array_text(value)}
    if isinstance(value, (tuple, list)):
        kind = "tuple" if isinstance(value, tuple) else "list"
        return {kind: [_plain(one) for one in value]}
    if isinstance(value, dict):
        return {"dict": [[_plain(key), _plain(one)] for key, one in value.items()]}
    if isinstance(value, datetime):
        return {"time": value.isoformat()}
    if isinstance(value, Path):
        return {"path": str(value)}
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        fields = [field.name for field in dataclasses.fields(value)]
        return {"record": _name(type(value)), "of": {f: _plain(getattr(value, f)) for f in fields}}
    raise TypeError(f"a {type(value).__name__} can't be kept; use numbers, text, arrays or records")


def _value(found: Any) -> Any:
    if not isinstance(found, dict):
        return found
    if "record" in found:
        return _record(_class(found["record"]), found["of"])
    if "enum" in found:
        return _class(found["enum"])[found["of"]]
    kind, content = next(iter(found.items()))
    if kind == "array":
        return np.load(io.BytesIO(base64.b64decode(content)), allow_pickle=False)
    if kind in ("tuple", "list"):
        several = [_value(one) for one in content]
        return tuple(several) if kind == "tuple" else several
    if kind == "dict":
        return {_value(key): _value(one) for key, one in content}
    return datetime.fromisoformat(content) if kind == "time" else Path(content)


def _record(record: Any, content: dict[str, Any]) -> Any:
    fields = [field.name for field in dataclasses.fields(record)]
    if fields != list(content):
        raise LayoutError(f"{record.__name__} has other fields now")
    made = object.__new__(record)
    # As it was: fields that the class works out when it is made must not be worked out again.
    for name in fields:
        object.__setattr__(made, name, _value(content[name]))
    return made


def _class(name: str) -> Any:
    module, _, inside = name.partition(":")
    if not module.startswith(PACKAGE):
        raise LayoutError(f"{name} is not a record of this package")
    found = getattr(importlib.import_module(module), inside)
    if not (dataclasses.is_dataclass(found) or issubclass(found, Enum)):
        raise LayoutError(f"{name} is not a record")
    return found


def _name(record: type) -> str:
    if not record.__module__.startswith(PACKAGE):
        raise TypeError(f"{record.__name__} is not a record of this package and can't be kept")
    return f"{record.__module__}:{record.__qualname__}"


def _array_text(array: np.ndarray[Any, Any]) -> str:
    whole = io.BytesIO()
    np.save(whole, array, allow_pickle=False)
    return base64.b64encode(whole.getvalue()).decode("ascii")
