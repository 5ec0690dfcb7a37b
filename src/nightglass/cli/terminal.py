"""The door of all printing: nothing steers the terminal but what this program means to.

Names and metadata come from files of others: a lens called "\\x1b[2J" would clear the screen, and
an override of writing direction would turn a line round. So standard output and standard error are
guarded while a command runs: control codes are printed as they would be typed, `\\x1b`. Bars and
tables, which steer the terminal, write past the guard through `console`, which cleans their words.
Letters that the terminal's encoding lacks are replaced; no command ends half-way because of them.
"""

from __future__ import annotations

import codecs
import io
import re
import sys
import unicodedata
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, TextIO

if TYPE_CHECKING:
    from rich.console import Console

# C0 but tab and line feed, DEL, C1, line separators, changes of writing direction, lone surrogates
# (what is left of a file name that is not UTF-8).
_STEERING = re.compile(
    "[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069\ud800-\udfff]"
)

REPLACEMENTS = {
    "±": "+/-", "×": "x", "°": " deg", "²": "2", "·": "*", "–": "-", "—": "-", "−": "-", "→": "->",
    "←": "<-", "≤": "<=", "≥": ">=", "≈": "~", "“": '"', "”": '"', "‘": "'", "’": "'", "…": "...",
    "•": "*", "µ": "u", "μ": "u", "☾": "moon", "★": "*",
}  # fmt: skip
"""What stands for our own signs where the encoding of the output has none of them."""
_HANDLER = "nightglass"


def printable(text: str) -> str:
    """Return text with every control code as it would be typed: an escape as \\x1b."""
    return _STEERING.sub(lambda match: _typed(match[0]), text)


def printable_json(text: str) -> str:
    """Return a JSON document whose strings hold their control codes as JSON writes them."""
    return re.sub(f"(?!\n){_STEERING.pattern}", lambda match: f"\\u{ord(match[0]):04x}", text)


def takes_unicode() -> bool:
    """Tell whether standard output can hold every letter."""
    return (getattr(sys.stdout, "encoding", None) or "").lower().startswith("utf")


@contextmanager
def guarded() -> Iterator[None]:
    """Guard standard output and error; inside an outer guard nothing changes."""
    codecs.register_error(_HANDLER, _replaced)
    before = sys.stdout, sys.stderr
    for stream in before:
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors=_HANDLER)
    sys.stdout, sys.stderr = (_guard(stream) for stream in before)
    try:
        yield
    finally:
        sys.stdout, sys.stderr = before


def console(*, stderr: bool = False, width_in_pipe: int | None = None, **options: Any) -> Console:
    """Return a console for tables and bars: it steers the terminal, its words do not.

    width_in_pipe: a file or a pipe has no width of its own; with it nothing is cut off there.
    """
    from rich.console import Console

    class CleanConsole(Console):
        def render(self, *given: Any, **more: Any) -> Iterator[Any]:
            for segment in super().render(*given, **more):
                yield segment if segment.control else segment._replace(text=printable(segment.text))

    stream = _unguarded(sys.stderr if stderr else sys.stdout)
    if width_in_pipe is not None and not stream.isatty():
        options["width"] = width_in_pipe
    return CleanConsole(file=stream, highlight=False, **options)


def text_width() -> int | None:
    """Return the columns of the terminal; None for a file or a pipe, where nothing is stacked."""
    screen = console()
    return screen.width if screen.is_terminal else None


@contextmanager
def progress(quiet: bool) -> Iterator[Callable[[str, int, int], None]]:
    """Show what is being done, and how far it is, on the terminal's error output."""
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn

    still = quiet or not sys.stderr.isatty()
    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn())
    with Progress(*columns, console=console(stderr=True), transient=True, disable=still) as bar:
        task = bar.add_task("", total=None)

        def show(what: str, done: int, total: int) -> None:
            bar.update(task, description=what, completed=done, total=total)

        yield show


def write_over(line: str) -> None:
    """Write a line over the last one on the error output, to be written over itself."""
    stream = _unguarded(sys.stderr)
    stream.write(f"\r\x1b[K{printable(line)}")
    stream.flush()


class _Guard:
    """A text stream that prints control codes as they would be typed."""

    def __init__(self, stream: TextIO) -> None:
        self.unguarded = stream

    def write(self, text: str) -> int:
        self.unguarded.write(printable(text))
        return len(text)

    def writelines(self, lines: Iterator[str]) -> None:
        for line in lines:
            self.write(line)

    def __getattr__(self, name: str) -> Any:
        return getattr(self.unguarded, name)


def _guard(stream: Any) -> Any:
    return stream if isinstance(stream, _Guard) else _Guard(stream)


def _unguarded(stream: Any) -> Any:
    return stream.unguarded if isinstance(stream, _Guard) else stream


def _typed(character: str) -> str:
    code = ord(character)
    if 0xDC80 <= code <= 0xDCFF:
        # A byte of a file name that is no UTF-8, as Python carries it.
        code -= 0xDC00
    return f"\\x{code:02x}" if code < 0x100 else f"\\u{code:04x}"


def _replaced(error: UnicodeError) -> tuple[str, int]:
    """What is written for letters that an encoding lacks: our own signs in words, letters without
    their accents, a question mark for the rest."""
    if not isinstance(error, UnicodeEncodeError):
        raise error
    return "".join(_plain(c) for c in error.object[error.start : error.end]), error.end


def _plain(character: str) -> str:
    if character in REPLACEMENTS:
        return REPLACEMENTS[character]
    base = unicodedata.normalize("NFKD", character).encode("ascii", "ignore").decode("ascii")
    return base or ("" if unicodedata.combining(character) else "?")
