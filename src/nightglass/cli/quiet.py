"""Keeping the libraries' own lines off the terminal: a fault is told once, in our words."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager

ERROR_OUTPUT = 2


@contextmanager
def own_words_only() -> Iterator[None]:
    """Send what C libraries write to the error output nowhere; Python's own still arrives.

    The raw decoder prints "Unexpected end of file" by itself and then reports the fault too. It
    writes to the descriptor, which all threads share: so the descriptor leads nowhere for the
    whole command, and sys.stderr gets another one that leads where the first did.
    """
    before = sys.stderr
    try:
        ours = before.fileno() == ERROR_OUTPUT
    except (AttributeError, OSError, ValueError):
        ours = False
    if not ours:
        # Somebody else, a test or a page, has the error output in hand.
        yield
        return
    before.flush()
    kept = os.dup(ERROR_OUTPUT)
    # Its descriptor is closed below, when it leads back to its old place.
    sys.stderr = open(  # noqa: SIM115
        kept, "w", encoding=before.encoding, errors=before.errors, buffering=1, closefd=False
    )
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, ERROR_OUTPUT)
    os.close(nowhere)
    try:
        yield
    finally:
        sys.stderr.flush()
        sys.stderr = before
        os.dup2(kept, ERROR_OUTPUT)
        os.close(kept)
