"""Loops compiled to machine code, kept on disk where the folder allows it.

The compiler's own cache fails at import where neither the package folder nor the home folder can
be written; there each start compiles anew, and says nothing. The loops let go of the interpreter
lock, so that threads share the cores.

A constant that a loop imports from another file is compiled into it, and the cache looks only at
the loop's own file: after changing such a constant, delete the folders __pycache__.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from numba import njit


def compiled(loop: Callable[..., Any]) -> Callable[..., Any]:
    """Return the loop compiled on first use, from the cache on disk where there can be one."""
    try:
        fast: Callable[..., Any] = njit(cache=True, nogil=True)(loop)
    except RuntimeError:  # "no locator available": a read-only install without a home
        fast = njit(cache=False, nogil=True)(loop)
    return fast


def compiled_waves(loop: Callable[..., Any]) -> Callable[..., Any]:
    """Return a compiled loop over sums of waves, several of them in one step of the processor.

    Products and sums may be fused (one rounding less), and a division by 0 gives inf or nan, as
    numpy has it. Kept on disk as by `compiled`.
    """
    ways: dict[str, Any] = {
        "nogil": True,
        "error_model": "numpy",
        "fastmath": {"contract", "reassoc"},
    }
    try:
        fast: Callable[..., Any] = njit(cache=True, **ways)(loop)
    except RuntimeError:
        fast = njit(cache=False, **ways)(loop)
    return fast
