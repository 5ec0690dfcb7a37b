"""The one error of this room: a file that can't be used, in one line."""

from __future__ import annotations


class FrameError(Exception):
    """A picture file that can't be read: which file, why, and what to do."""

    def __init__(self, file: str, cause: str, remedy: str) -> None:
        # All three go to Exception so that the error survives the way back from a worker process.
        super().__init__(file, cause, remedy)
        self.file = file
        self.cause = cause
        self.remedy = remedy

    def __str__(self) -> str:
        return f"{self.file}: {self.cause}; {self.remedy}"
