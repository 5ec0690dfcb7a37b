"""Plain tables for a terminal: aligned where they fit, else one entry below the other."""

from __future__ import annotations

from collections.abc import Sequence

GAP = "  "


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


def _stacked(titles: Sequence[str], rows: Sequence[Sequence[str]]) -> list[str]:
    lines: list[str] = []
    for row in rows:
        lines.append(row[0])
        lines += [f"  {t}: {cell}" for t, cell in zip(titles[1:], row[1:], strict=True) if cell]
    return lines
