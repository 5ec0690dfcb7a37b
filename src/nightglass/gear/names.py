"""Names that people and cameras give: what may stand in one, and how a recorded one is made fit."""

from __future__ import annotations

from unicodedata import category

LONGEST_NAME = 80
"""Letters of a name: a longer one fits on no card and in no table."""
# These turn the direction of writing for all that follows; the marks that a name in Hebrew or
# Arabic needs (U+200E, U+200F) do not.
_TURNS_WRITING = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")


def name_fault(name: str) -> str | None:
    """Return what is wrong with a name, to be put behind its key; None for a good one."""
    if not name.strip():
        return "is blank"
    if len(name) > LONGEST_NAME:
        return f"has {len(name)} letters; at most {LONGEST_NAME}"
    for place, letter in enumerate(name, start=1):
        if _steers(letter):
            return (
                f"holds a control code (U+{ord(letter):04X}) as letter {place}; type it again "
                "without"
            )
    return None


def fit_name(recorded: str, otherwise: str) -> str:
    """Return a name that a file records without its control codes and cut to the longest allowed.

    otherwise: stands for a name of which nothing is left.
    """
    plain = " ".join("".join(" " if _steers(c) else c for c in recorded).split())
    return plain[:LONGEST_NAME].rstrip() or otherwise


def _steers(letter: str) -> bool:
    return category(letter) in ("Cc", "Cs", "Zl", "Zp") or letter in _TURNS_WRITING
