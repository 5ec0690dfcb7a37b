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


def in_one_line(error: Exception) -> str:
    """Return an error's own words; for the system's errors the file, the cause, what to do."""
    if isinstance(error, OSError) and error.strerror:
        where = f"{error.filename}: " if error.filename else ""
        return f"{where}{error.strerror.lower()}; check the name, its permissions and the disk"
    return " ".join(str(error).split())
