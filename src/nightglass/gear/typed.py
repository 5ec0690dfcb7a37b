"""Numbers of gear as people type them into a form."""

from __future__ import annotations

import re

_SPAN = re.compile(r"^(?:f/)?([0-9.]+)(?:\s*(?:-|\N{EN DASH}|to)\s*(?:f/)?([0-9.]+))?(?:\s*mm)?$")


def span_of(typed: str, what: str, example: str) -> tuple[float, float]:
    """Return both ends of "20", "11-18" or "11 to 18 mm"; one number stands for both.

    Raises ValueError with what it is and an example for anything else.
    """
    found = _SPAN.match(typed.strip().replace(",", "."))
    try:
        low = float(found[1]) if found else 0.0
        high = float(found[2] or found[1]) if found else 0.0
    except ValueError:
        low = high = 0.0
    if not low > 0 or not high > 0:
        raise ValueError(
            f'{what} is "{typed}"; give a number above 0 or two ends, such as {example}'
        )
    return low, high


def number_of(typed: str, what: str, example: str) -> float:
    """Return a typed number. Raises ValueError with what it is and an example."""
    try:
        return float(typed.strip().replace(",", "."))
    except ValueError:
        raise ValueError(f'{what} is "{typed}"; give a number such as {example}') from None
