"""A part of a frame drawn once more with the bench's spot, and measured by the same code."""
