"""Invented results: spots of known shape at known places."""

from invented_results import bench, build

__all__ = ["bench", "build"]
