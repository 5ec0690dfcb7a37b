"""What all commands share: errors in one line, exit codes, plain JSON."""

from __future__ import annotations

import json
import math
import sys
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from nightglass.cli.terminal import printable_json, takes_unicode

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


class UndoneError(Exception):
    """What was asked for could not be done: one line with the cause and what to do."""


def stopped_line(command: str | None) -> str:
    """Return what Ctrl-C leaves of a command."""
    if command in RECORDING:
        return "Stopped. What is on record stays; the same command goes on from there."
    return "Stopped. What was told or written stays; the same command begins again."


def tell(error: Exception, as_json: bool) -> int:
    """Print an error in plain lines, with --json as data too; return the exit code."""
    from nightglass.frame.errors import in_one_line
    from nightglass.gear.bag import BenchFileError

    lines = error.problems if isinstance(error, BenchFileError) else (in_one_line(error),)
    # A plain ValueError is how every formula and reader refuses what was typed; its kinds are not:
    # a codec's or a parser's error is about a file.
    typed = isinstance(error, BenchFileError | MistypedError) or type(error) is ValueError
    return tell_lines(lines, MISTYPED if typed else FAILED, as_json)


def tell_lines(lines: Sequence[str], code: int, as_json: bool) -> int:
    """Print lines on the error output, with --json as data on standard output; return the code."""
    print("\n".join(lines), file=sys.stderr)
    if as_json:
        print_json({}, "\n".join(lines), code)
    return code


def print_json(value: object, error: str | None = None, code: int = FAILED) -> None:
    """Print a value as JSON that every reader takes: what is not finite is null.

    error: what went wrong, if the exit code is not 0; it stands beside the rest with the code.
    """
    if error is not None and isinstance(value, Mapping):
        value = {**value, "error": error, "code": code}
    text = json.dumps(finite(value), ensure_ascii=not takes_unicode(), allow_nan=False, indent=1)
    print(printable_json(text))


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


EXAMPLES = {
    "--pitch-um": "5.9 (um)", "--focal-mm": "20 (mm)", "--exposure-s": "15 (s)",
    "--focal": "20 (mm)", "--f": "2.8", "--trail": "0.15 (% of picture height)",
    "--exposure": "15 (s)", "--wide": "14 (mm)", "--wide-f": "2.8", "--like": "14 (mm)",
    "--noise-area": "12 (px)", "--frames": "16", "--noise": "25 (% of one frame's)",
    "--overlap": "30 (%)", "--usable": "70 (%)", "--width": "180 (degrees)",
}  # fmt: skip
"""A usual value of each option that must be above 0, for its error."""


def refuse_unless_above_zero(given: Mapping[str, float | None]) -> None:
    """Raise MistypedError for the first option, by name, whose number is not above 0."""
    for name, value in given.items():
        if value is not None and not 0 < value < math.inf:
            raise MistypedError(
                f"{name} is {value:g}; it must be above 0, such as {EXAMPLES[name]}"
            )


def cant_write(folder: Path, error: OSError) -> str:
    """Return the line for a folder that can't be written."""
    cause = error.strerror or str(error)
    return f"{folder}: can't be written ({cause}); free the disk or allow writing there"


def warn(line: str) -> None:
    """Print a line on the error output; the work goes on."""
    print(line, file=sys.stderr, flush=True)
