"""The command line: one table of commands, each loaded only when it is asked for."""

from __future__ import annotations

import gc
import importlib
import os
import sys
from collections.abc import Callable, Sequence
from typing import Annotated, Any

import typer

from nightglass.bench.errors import BenchError
from nightglass.cli.doors import (
    EXIT_CODES,
    MISTYPED,
    STOPPED,
    UndoneError,
    print_json,
    stopped_line,
    tell,
    tell_lines,
)
from nightglass.cli.quiet import own_words_only
from nightglass.cli.terminal import guarded
from nightglass.cli.usage import usage_line
from nightglass.frame.errors import FrameError

COMMANDS: dict[str, tuple[str, str]] = {
    "open": ("open", "Open the page: the whole job in your browser, without commands."),
    "new": ("new", "Make a bench folder: bench.toml to fill in, frames/, a sheet for shooting."),
    "plan": ("plan", "Plan a session at the bench: distances, aims, repeats, shot list."),
    "watch": ("watch", "Measure each frame as it lands, and say whether it is good."),
    "measure": ("measure", "Measure the raw frames of a bench; what is on record is skipped."),
    "rank": ("rank", "Rank the lenses: light, blur, score, and how sure the order is."),
    "compare": ("compare", "Hold two settings of a bench side by side."),
    "look": ("look", "Draw a patch of the sky as two settings record it, and a blind sheet."),
    "bodies": ("bodies", "Hold a lens against itself on two bodies, in um and % of height."),
    "faults": ("faults", "Say what is wrong with each lens, and whether stopping down helps."),
    "card": ("card", "Make the field cards: phone picture, page and A6 print."),
    "sensor": ("sensor", "Measure the camera's sensor: which ISO, read noise, dark current."),
    "flats": ("flats", "Measure the light over the field from evenly lit frames."),
    "focus": ("focus", "Find best focus and its depth from series through focus."),
    "factors": ("factors", "Say what else moves the number: exposure, ISO, distance, focus."),
    "spot": ("spot", "Measure loose files without a bench."),
    "demo": ("demo", "Show the whole way on frames of an invented camera club."),
    "sky": ("sky", "Measure stars in frames of the real sky."),
    "finish": ("finish", "Say what the finishing of pictures did to their stars."),
    "proof": ("proof", "Hold the bench against frames of the real sky."),
    "night": ("night", "Say when it is dark, where the moon is and when the Milky Way is up."),
    "season": ("night", "Show a year at one place: dark hours, moon, the best nights ahead."),
    "tonight": ("night", "Say what to set for a lens, a place, a time and an aim."),
    "panorama": ("panorama", "Plan a panorama: frames, order, minutes, and what it gains."),
    "stack": ("panorama", "Plan a stack: how many frames, and when more stop helping."),
}
"""Command -> module below nightglass.cli and help line; the function has the command's name."""

UsageError: type[Exception] = typer.BadParameter.__mro__[1]
"""The library's error for a command line that can't be parsed; it exports only kinds of it."""
HELP_OPTIONS = {"-h", "--help"}
TELLS_A_STOP = ("sky", "watch")
"""Commands whose plain data say that they were stopped, or end with a line for each frame."""
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


@own_words_only()
def run(arguments: Sequence[str] | None = None) -> int:
    """Run the command line and return the exit code (EXIT_CODES); errors are told in one line.

    With --json an error is data too: {"error", "code"} on standard output.
    """
    # Loading libraries makes a million objects that stay: looking for rubbish among them again and
    # again takes a fifth of a short command.
    gc.set_threshold(OBJECTS_BEFORE_COLLECTION)
    given = list(sys.argv[1:] if arguments is None else arguments) or ["--help"]
    if HELP_OPTIONS & set(given):
        # Help holds nothing of others, and its look is the library's.
        return _run(given)
    with guarded():
        code = _run(given)
    return _flushed(code)


def _run(given: list[str]) -> int:
    as_json = "--json" in given
    asked = next((word for word in given if not word.startswith("-")), None)
    try:
        code = build(asked)(given, prog_name="nightglass", standalone_mode=False)
    except SystemExit as end:
        return end.code if isinstance(end.code, int) else 0
    except KeyboardInterrupt:
        code = STOPPED
    except UsageError as error:
        return tell_lines([usage_line(error, COMMANDS, asked)], MISTYPED, as_json)
    except (UndoneError, BenchError, FrameError, OSError, ValueError) as error:
        return tell(error, as_json)
    if code == STOPPED:
        print(stopped_line(asked), file=sys.stderr)
        if as_json and asked not in TELLS_A_STOP:
            print_json({}, stopped_line(asked), STOPPED)
    return code if isinstance(code, int) else 0


def _flushed(code: int) -> int:
    """Return the code once all is written; a reader that left (a pipe to head) gets no trace."""
    try:
        sys.stdout.flush()
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    return code


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
