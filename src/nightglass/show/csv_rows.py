"""Rows as CSV: one way to write every table for a spreadsheet."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from typing import Any

_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")
"""A cell that begins with one of these is run as a formula by spreadsheets (OWASP, "CSV
Injection")."""


def csv_text(rows: Sequence[Mapping[str, Any]]) -> str:
    """Return rows as CSV (RFC 4180: commas, CRLF), the keys of the first as header.

    A missing value is an empty cell. Text that a spreadsheet would run as a formula gets an
    apostrophe in front. Raises IndexError for no rows.
    """
    text = io.StringIO()
    writer = csv.DictWriter(text, fieldnames=list(rows[0]), lineterminator="\r\n")
    writer.writeheader()
    writer.writerows({key: _cell(value) for key, value in row.items()} for row in rows)
    return text.getvalue()


def _cell(value: Any) -> Any:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str) and value.startswith(_FORMULA_STARTS):
        return "'" + value
    return value
