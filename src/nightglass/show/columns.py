"""Answers as parts: sentences, tables and facts; a terminal's lines are made of them here.

The page makes its own tables of the same parts (page/blocks.py).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

GAP = "  "
LABEL_COLUMNS = 13
"""Least width of the labels of facts, so that blocks below each other line up."""


@dataclass(frozen=True)
class Heading:
    """A line that names what stands below it."""

    words: str


@dataclass(frozen=True)
class Table:
    """Rows under their titles; an empty cell has nothing to say."""

    titles: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    numbers: tuple[str, ...] = ()
    """Titles of the columns that stand to the right."""
    indent: str = GAP


@dataclass(frozen=True)
class Facts:
    """Labels, each with what is to be said of it."""

    rows: tuple[tuple[str, str], ...]


Part = str | Heading | Table | Facts
"""A sentence (an empty one parts two paragraphs), or what has columns."""


def lines_of(parts: Iterable[Part], width: int | None = None) -> Iterator[str]:
    """Yield an answer as lines; width: columns of the terminal, None for a file or a pipe."""
    for part in parts:
        if isinstance(part, str):
            yield part
        elif isinstance(part, Heading):
            yield part.words
        elif isinstance(part, Facts):
            yield from _facts_lines(part.rows, width)
        else:
            inner = None if width is None else width - len(part.indent)
            lines = table_lines([part.titles, *part.rows], inner, part.numbers)
            yield from (f"{part.indent}{line}" for line in lines)


def table_lines(
    rows: Sequence[Sequence[str]], width: int | None, numbers: Sequence[str] = ()
) -> list[str]:
    """Return a table as lines; rows[0] holds the titles.

    width: columns of the terminal, None for a file or a pipe. numbers: titles of the columns that
    stand to the right. What does not fit is stacked: the first column as a heading, the others
    below it with their titles; nothing is cut off.
    """
    titles = rows[0]
    widths = [max(len(row[k]) for row in rows) for k in range(len(titles))]
    if width is not None and sum(widths) + len(GAP) * (len(titles) - 1) > width:
        return _stacked(titles, rows[1:])
    right = [title in numbers for title in titles]
    return [
        GAP.join(
            cell.rjust(w) if r else cell.ljust(w)
            for cell, w, r in zip(row, widths, right, strict=True)
        ).rstrip()
        for row in rows
    ]


def _facts_lines(rows: Sequence[tuple[str, str]], width: int | None) -> Iterator[str]:
    longest = max([LABEL_COLUMNS, *(len(label) for label, _ in rows)])
    narrow = width is not None and width < 2 * longest + len(GAP)
    for label, text in rows:
        yield f"{GAP}{label}: {text}" if narrow else f"{GAP}{label.ljust(longest)}{GAP}{text}"


def _stacked(titles: Sequence[str], rows: Sequence[Sequence[str]]) -> list[str]:
    lines: list[str] = []
    for row in rows:
        lines.append(row[0])
        lines += [f"  {t}: {cell}" for t, cell in zip(titles[1:], row[1:], strict=True) if cell]
    return lines
