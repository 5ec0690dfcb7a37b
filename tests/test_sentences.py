"""No record below `show` carries a sentence: what the rooms that measure and judge write as text.

Counted are text constants of more than three words, f-strings as a whole, outside docstrings and
errors. Codes are one word, names of things two or three.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

SOURCE = Path(__file__).parents[1] / "src" / "nightglass"
ROOMS = (
    "almanac", "sky", "bench/combined", "bench/study", "shoot", "plan", "verdict", "proof",
    "finish",
)  # fmt: skip
MOST_WORDS = 3

EXCEPTIONS = {
    "verdict/score.py": "names a setting in an error",
    "verdict/purpose.py": "a purpose as a person types it in bench.toml",
    "verdict/times.py": "name of a rule with the declination that it was asked for",
    "plan/aim.py": "part of an error",
    "plan/targets.py": "part of an error; a name as a person types it",
    "almanac/ephemeris.py": "name of a target",
    "almanac/place.py": "parts of errors",
    "shoot/asked.py": "parts of errors",
    "shoot/plan.py": "part of an error",
    "plan/wishes.py": "a target as a person types it",
}


def error_call(node: ast.AST) -> bool:
    """Whether a node makes an error: its text goes to whoever mistyped, not into a record."""
    if not isinstance(node, ast.Call):
        return False
    name = getattr(node.func, "attr", getattr(node.func, "id", ""))
    return name.endswith("Error")


def texts(node: ast.AST) -> Iterator[str]:
    """Yield the texts below a node, docstrings and errors left out; values in f-strings are "…"."""
    if isinstance(node, ast.Raise) or error_call(node):
        return
    if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
        return
    if isinstance(node, ast.JoinedStr):
        yield "".join(p.value if isinstance(p, ast.Constant) else "…" for p in node.values)
        return
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        yield node.value
    for child in ast.iter_child_nodes(node):
        yield from texts(child)


def sentences() -> dict[str, list[str]]:
    found = {}
    for room in ROOMS:
        for path in sorted((SOURCE / room).rglob("*.py")):
            all_texts = texts(ast.parse(path.read_text("utf-8")))
            long = [text for text in all_texts if len(text.split()) > MOST_WORDS]
            if long:
                found[path.relative_to(SOURCE).as_posix()] = long
    return found


def test_records_carry_codes_and_no_sentences() -> None:
    found = sentences()
    new = {name: said for name, said in found.items() if name not in EXCEPTIONS}
    assert not new, "give the record a code and its numbers, and word it in nightglass.show"
    assert not set(EXCEPTIONS) - set(found), "take these out of EXCEPTIONS"


def test_a_sentence_would_be_found() -> None:
    planted = ast.parse(
        '"""A module of four words."""\nNOTE = f"only {n} stars stand out"\n'
        'raise ValueError("give the whole frame again")\n'
        'fault = StoreError("the disk is full now")\nNAME = "top left"\n'
    )
    assert list(texts(planted)) == ["only … stars stand out", "top left"]
