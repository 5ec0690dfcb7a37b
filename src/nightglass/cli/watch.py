"""The command that measures frames as they land: nightglass watch FOLDER."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated, Any

import typer

from nightglass.cli.bench_options import FolderArgument
from nightglass.cli.doors import finite, warn


def watch(
    folder: FolderArgument = Path(),
    as_json: Annotated[
        bool,
        typer.Option("--json", help="Print a line of plain data at the start and for each frame."),
    ] = False,
) -> None:
    """Measure each frame as it lands in frames/ and say at once whether it is good.

    It says which line of the plan the frame is, its spot and its peak, whether to shoot it again
    and why, and what comes next. Frames may come by cable or be copied from a card; a file that is
    still growing waits. Results go on record; stop with Ctrl-C.
    """
    from nightglass.shoot.watcher import Began, Said, watch_folder
    from nightglass.show.shoot.data import began_data, said_data
    from nightglass.show.shoot.watch_text import (
        began_lines,
        fault_lines,
        said_lines,
        stopped_lines,
    )

    frames = again = 0
    try:
        for event in watch_folder(folder):
            if isinstance(event, Said):
                frames, again = frames + 1, again + event.frame.again
                _say(said_data(event) if as_json else said_lines(event))
            elif isinstance(event, Began):
                _say(began_data(event) if as_json else began_lines(event, folder))
            else:
                warn("\n".join(fault_lines(event)))
    except KeyboardInterrupt:
        _say(
            {"watching": False, "frames": frames, "again": again}
            if as_json
            else stopped_lines(frames, again, folder)
        )
        raise


def _say(words: Any) -> None:
    """Print lines, or data as one line that no other process shares."""
    text = "\n".join(words) if isinstance(words, list) else json.dumps(finite(words))
    print(text, flush=True)
