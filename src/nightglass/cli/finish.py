"""The command that holds developed pictures against the frame they come from: nightglass finish."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from nightglass.cli.bench_options import JsonOption
from nightglass.cli.doors import FAILED, MistypedError, print_json, tell, warn
from nightglass.cli.terminal import text_width


def finish(
    reference: Annotated[
        Path,
        typer.Argument(help="The raw frame, or a developed picture that is taken as it should be."),
    ],
    pictures: Annotated[
        list[Path],
        typer.Argument(help="Pictures developed from it: TIFF, PNG or JPEG, 8 or 16 bits."),
    ],
    out: Annotated[
        Path | None,
        typer.Option("--out", help="Folder for a PNG of each picture's findings, worst places."),
    ] = None,
    as_json: JsonOption = False,
) -> None:
    """Say what noise reduction, sharpening and export did to the stars of developed pictures.

    Each picture is laid on the reference by its stars. A picture that can't be read or compared
    gives its reason; the others go on, and the exit code is 1.
    """
    from nightglass.finish.run import finished
    from nightglass.frame.errors import FrameError
    from nightglass.show.finish.sheet import write_sheets
    from nightglass.show.finish.text import finish_data, finish_lines, next_step

    if out is not None and out.exists() and not out.is_dir():
        raise MistypedError(f"--out {out}: this is a file; name a folder, a new one or not")
    unread: list[FrameError] = []
    quiet = as_json or not sys.stderr.isatty()
    found = finished(
        str(reference), [str(path) for path in pictures], unread.append,
        lambda path: None if quiet else warn(f"reading {path}"),
    )  # fmt: skip
    for error in unread:
        tell(error, as_json=False)
    written = list(write_sheets(found, out)) if out is not None else []
    failed = bool(unread) or any(one.reason is not None for one in found.audits)
    if as_json:
        data = {**finish_data(found), "unread": [str(error) for error in unread]}
        print_json({**data, "written": [str(path) for path in written]})
    else:
        print("\n".join(finish_lines(found, text_width())))
        for path in written:
            print(f"written: {path}")
        print(next_step(found, out is not None))
    if failed:
        raise typer.Exit(FAILED)
