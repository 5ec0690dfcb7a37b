"""What all commands share: errors in one line, exit codes, plain JSON."""

from __future__ import annotations

import json
import math
import sys
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

DONE, FAILED, MISTYPED, STOPPED = 0, 1, 2, 130
EXIT_CODES = {
    DONE: "done",
    FAILED: "something could not be done: a file that can't be read, nothing to measure or rank",
    MISTYPED: "the command line or bench.toml can't be used as typed",
    STOPPED: "stopped with Ctrl-C; what is on record stays",
}
"""Every exit code with its meaning; help and documents are made from this table."""

RECORDING = ("measure", "watch")
"""Commands that put each result on record as it comes."""
LONGEST_LIST = 8


class MistypedError(ValueError):
    """The command line can't be used as typed; the words say what is allowed."""


def stopped_line(command: str | None) -> str:
    """Return what Ctrl-C leaves of a command."""
    if command in RECORDING:
        return "Stopped. What is on record stays; the same command goes on from there."
    return "Stopped. What was told or written stays; the same command begins again."


def tell(error: Exception, as_json: bool) -> int:
    """Print an error in plain lines and return the exit code."""
    from nightglass.frame.errors import in_one_line
    from nightglass.gear.bag import BenchFileError

    lines = error.problems if isinstance(error, BenchFileError) else (in_one_line(error),)
    print("\n".join(lines), file=sys.stderr)
    if as_json:
        print_json({"error": "\n".join(lines)})
    return MISTYPED if isinstance(error, BenchFileError | MistypedError) else FAILED


def print_json(value: object) -> None:
    """Print a value as JSON that every reader takes: what is not finite is null."""
    print(json.dumps(finite(value), ensure_ascii=False, allow_nan=False, indent=1))


def finite(value: Any) -> Any:
    """Return plain lists, dicts and numbers; NaN and infinities become None, arrays are dropped."""
    if isinstance(value, Mapping):
        return {str(key): finite(part) for key, part in value.items()}
    if isinstance(value, list | tuple):
        return [finite(part) for part in value]
    if isinstance(value, bool | int | str) or value is None:
        return value
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    item = getattr(value, "item", None)
    return finite(item()) if item is not None and getattr(value, "ndim", 1) == 0 else None


def by_reason(pairs: Iterable[tuple[str, str]]) -> list[str]:
    """Return one line for each reason with the files that share it."""
    files: dict[str, list[str]] = {}
    for name, reason in pairs:
        files.setdefault(reason, []).append(name)
    return [f"{shortened(names)}: {reason}" for reason, names in files.items()]


def shortened(names: Sequence[str]) -> str:
    """Return names in a row, and how many more there are."""
    shown = ", ".join(names[:LONGEST_LIST])
    more = len(names) - LONGEST_LIST
    return f"{shown} and {more} more" if more > 0 else shown


def counted(number: int, one: str, many: str = "") -> str:
    """Return "1 frame" or "3 frames"."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def warn(line: str) -> None:
    """Print a line on the error output; the work goes on."""
    print(line, file=sys.stderr, flush=True)
