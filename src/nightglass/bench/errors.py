"""Errors of this room, free of heavy imports so that every door can name them."""

from __future__ import annotations


class BenchError(Exception):
    """A bench that can't be measured: one line with the cause and what to do."""


class StoreError(BenchError):
    """The store can't be opened, read or written: one line with the cause and what to do."""
