"""Which line of a TOML file a key stands on: tomllib itself forgets it."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

_HEADER = re.compile(r"^\s*(\[\[?)\s*(.+?)\s*\]\]?\s*(?:#.*)?$")
_KEY = re.compile(
    r"""^\s*((?:[A-Za-z0-9_-]+|"[^"]*"|'[^']*')(?:\s*\.\s*(?:[A-Za-z0-9_-]+|"[^"]*"|'[^']*'))*)\s*=\s*(.*)$"""
)
_KEY_PART = re.compile(r"""[A-Za-z0-9_-]+|"[^"]*"|'[^']*'""")
_STRING = re.compile(r'"""|\'\'\'|"(?:\\.|[^"\\])*"|\'[^\']*\'|#.*|[\[\]{}]')

Location = tuple[str | int, ...]


def find_line(text: str, location: Sequence[str | int]) -> int:
    """Return the 1-based line of a key, or of the nearest table around it that is written down.

    location: table, number within [[table]] (from 0), key, as pydantic gives it. Returns 1 if
    nothing of it is in the text. The text must be valid TOML.
    """
    lines = dict(_locations(text))
    wanted = tuple(location)
    while wanted:
        if wanted in lines:
            return lines[wanted]
        wanted = wanted[:-1]
    return 1


def _locations(text: str) -> Iterator[tuple[Location, int]]:
    table: Location = ()
    counts: dict[Location, int] = {}
    open_until = _Open()
    for number, line in enumerate(text.splitlines(), start=1):
        if open_until.inside:
            open_until.read(line)
            continue
        if header := _HEADER.match(line):
            table = _parts(header[2])
            if header[1] == "[[":
                counts[table] = counts.get(table, -1) + 1
                table = (*table, counts[table])
            yield table, number
        elif key := _KEY.match(line):
            parts = _parts(key[1])
            for depth in range(1, len(parts) + 1):
                yield (*table, *parts[:depth]), number
            open_until.read(key[2])


def _parts(dotted: str) -> Location:
    return tuple(part.strip("\"'") for part in _KEY_PART.findall(dotted))


class _Open:
    """Whether a value goes on over the end of the line: brackets or a long string still open."""

    def __init__(self) -> None:
        self._depth = 0
        self._quote: str | None = None

    @property
    def inside(self) -> bool:
        return self._depth > 0 or self._quote is not None

    def read(self, line: str) -> None:
        at = 0
        while at < len(line):
            if self._quote is not None:
                end = line.find(self._quote, at)
                if end < 0:
                    return
                at, self._quote = end + 3, None
                continue
            found = _STRING.search(line, at)
            if found is None:
                return
            at = found.end()
            mark = found[0]
            if mark in ('"""', "'''"):
                self._quote = mark
            elif mark in "[{":
                self._depth += 1
            elif mark in "]}":
                self._depth -= 1
