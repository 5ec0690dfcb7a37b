"""The command that shows the whole way on rendered frames: nightglass demo [FOLDER]."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated

import typer


def demo(
    folder: Annotated[Path, typer.Argument(help="Bench folder to make.")] = Path("demo-bench"),
) -> None:
    """Render the bench of an invented camera club, then measure it, rank it and make its cards.

    The frames are raw files like a camera's; measuring knows nothing of how they were made.
    Frames that are there already and whole are kept.
    """
    from nightglass.cli.card import card
    from nightglass.cli.measure import measure
    from nightglass.cli.rank import rank
    from nightglass.scene.stage import stage_bench

    began = time.monotonic()
    with _progress_bar() as on_progress:
        staged = stage_bench(folder, on_progress)
    kept = len(staged.frames) - staged.rendered
    print(
        f"{staged.rendered} raw frames of an invented club rendered into {folder / 'frames'} "
        f"({kept} were there), in {time.monotonic() - began:.1f} s"
    )
    _title("measure", folder)
    measure(folder)
    _title("rank", folder)
    rank(folder)
    _title("card", folder)
    card(folder)
    print()
    print(f"Ranking, tables and charts: {folder / 'out'}")
    print(f"Field cards: {folder / 'out' / 'cards'}")
    print(f"The whole demo took {time.monotonic() - began:.0f} s.")


def _title(command: str, folder: Path) -> None:
    print(f'\n$ nightglass {command} "{folder}"', flush=True)


@contextmanager
def _progress_bar() -> Iterator[Callable[[int, int], None]]:
    """A bar on the terminal's error output, as the other commands have."""
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn

    console = Console(stderr=True)
    columns = (TextColumn("rendering"), BarColumn(), MofNCompleteColumn())
    with Progress(
        *columns, console=console, transient=True, disable=not sys.stderr.isatty()
    ) as bar:
        task = bar.add_task("", total=None)

        def show(done: int, total: int) -> None:
            bar.update(task, completed=done, total=total)

        yield show
