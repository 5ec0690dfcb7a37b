"""The command line: one table of commands, each loaded only when it is asked for."""

from __future__ import annotations

import gc
import importlib
import sys
from collections.abc import Callable, Sequence
from typing import Annotated, Any

import typer

from nightglass.bench.errors import BenchError
from nightglass.cli.doors import EXIT_CODES, STOPPED, stopped_line, tell
from nightglass.frame.errors import FrameError

COMMANDS: dict[str, tuple[str, str]] = {
    "new": ("new", "Make a bench folder: bench.toml to fill in, frames/, a sheet for shooting."),
    "measure": ("measure", "Measure the raw frames of a bench; what is on record is skipped."),
    "rank": ("rank", "Rank the lenses: light, blur, score, and how sure the order is."),
    "card": ("card", "Make the field cards: phone picture, page and A6 print."),
    "sensor": ("sensor", "Measure the camera's sensor: which ISO, read noise, dark current."),
    "spot": ("spot", "Measure loose files without a bench."),
    "demo": ("demo", "Show the whole way on frames of an invented camera club."),
    "sky": ("sky", "Measure stars in frames of the real sky."),
    "proof": ("proof", "Hold the bench against frames of the real sky."),
    "night": ("night", "Say when it is dark, where the moon is and when the Milky Way is up."),
    "season": ("night", "Show a year at one place: dark hours, moon, the best nights ahead."),
    "tonight": ("night", "Say what to set for a lens, a place, a time and an aim."),
    "panorama": ("panorama", "Plan a panorama: frames, order, minutes, and what it gains."),
    "stack": ("panorama", "Plan a stack: how many frames, and when more stop helping."),
}
"""Command -> module below nightglass.cli and help line; the function has the command's name."""

OBJECTS_BEFORE_COLLECTION = 100_000
HELP = "Measures lenses for photographs of the night sky, and says which settings to use."


def build(asked: str | None = None) -> typer.Typer:
    """Return the command line with one command in full; the others only have their help line.

    Start-up stays short because no other command's libraries are read.
    """
    app = typer.Typer(
        help=HELP,
        epilog="Exit codes: " + "; ".join(f"{code} {text}" for code, text in EXIT_CODES.items()),
        no_args_is_help=True,
        add_completion=False,
        pretty_exceptions_enable=False,
        context_settings={"help_option_names": ["-h", "--help"]},
    )
    app.callback()(_options)
    for name, (module, line) in COMMANDS.items():
        function: Callable[..., Any] = _only_named
        if name == asked:
            function = getattr(importlib.import_module(f"nightglass.cli.{module}"), name)
        app.command(name, help=line if name != asked else None)(function)
    return app


def run(arguments: Sequence[str] | None = None) -> int:
    """Run the command line and return the exit code (EXIT_CODES); errors are told in one line."""
    # Loading libraries makes a million objects that stay: looking for rubbish among them again and
    # again takes a fifth of a short command.
    gc.set_threshold(OBJECTS_BEFORE_COLLECTION)
    given = list(sys.argv[1:] if arguments is None else arguments)
    as_json = "--json" in given
    asked = next((word for word in given if not word.startswith("-")), None)
    try:
        build(asked)(given, prog_name="nightglass")
    except SystemExit as end:
        code = end.code if isinstance(end.code, int) else 0
        if code == STOPPED:
            print(stopped_line(asked), file=sys.stderr)
        return code
    except KeyboardInterrupt:
        print(stopped_line(asked), file=sys.stderr)
        return STOPPED
    except (BenchError, FrameError, OSError, ValueError) as error:
        return tell(error, as_json)
    return 0


def _only_named() -> None:
    """Stand-in for a command that was not asked for."""


def _show_version(wanted: bool) -> None:
    if wanted:
        from importlib.metadata import version

        print(f"nightglass {version('nightglass')}")
        raise typer.Exit


def _options(
    version: Annotated[
        bool,
        typer.Option("--version", help="Show the version.", callback=_show_version, is_eager=True),
    ] = False,
) -> None:
    """Options of the program itself; each acts by its own callback."""


if __name__ == "__main__":
    sys.exit(run())
