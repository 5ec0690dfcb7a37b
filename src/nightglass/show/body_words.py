"""On which body of a bench something was found, where it has several."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from nightglass.gear.benchfile import BenchFile


def on_body_lines(bench: BenchFile) -> tuple[str, ...]:
    """Return the line that names the body; none for a bench of one body."""
    if not bench.other_bodies:
        return ()
    others = " and ".join(body.name for body in bench.other_bodies)
    return (f"On {bench.body.name}, by its own frames alone. For {others}: --body NAME.",)


def on_body_data(bench: BenchFile) -> dict[str, Any]:
    """Return the same as plain data; empty for a bench of one body."""
    if not bench.other_bodies:
        return {}
    others = [body.name for body in bench.other_bodies]
    return {"on_body": bench.body.name, "other_bodies": others}


def typed_folder(folder: Path, bench: BenchFile) -> str:
    """Return the folder as the next command needs it: with --body where another was asked for."""
    return f'"{folder}"' + (f' --body "{bench.body.name}"' if bench.main_body else "")


def names_words(names: tuple[str, ...]) -> str:
    """Return "A", "A and B" or "A, B and C"."""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
