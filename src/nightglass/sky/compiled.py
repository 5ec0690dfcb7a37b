"""One way of compiling the inner loops over pixels and stars."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from numba import njit


def compiled(function: Callable[..., Any]) -> Any:
    """Return the function compiled; kept on disk where that is possible.

    A read-only installation without a home folder has nowhere to keep it: then it is compiled
    anew in each process instead of failing (numba raises RuntimeError when it finds no place).
    """
    try:
        return njit(cache=True, fastmath={"contract", "reassoc", "nsz"})(function)
    except RuntimeError:
        return njit(fastmath={"contract", "reassoc", "nsz"})(function)
