"""Fixtures of the spot tests."""

from conftest_spot import make_frame

__all__ = ["make_frame"]
