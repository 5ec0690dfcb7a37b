"""The one error of this room: a file that can't be used, in one line."""

from __future__ import annotations

import errno


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


_IN_THE_WAY = "a file stands where a folder should be; name another folder, or move that file away"
_SYSTEM_WORDS = {
    errno.ENOENT: "no such file or folder; check the name and the folder",
    errno.ENOTDIR: _IN_THE_WAY,
    errno.EEXIST: _IN_THE_WAY,
    errno.EISDIR: "a folder, not a file; name a file in it",
    errno.EACCES: "reading or writing it is not allowed; change its permissions, or name another",
    errno.EROFS: "the disk can't be written to; name a folder on another disk",
    errno.ENOSPC: "the disk is full; free some space, then run the same command again",
}


def in_one_line(error: Exception) -> str:
    """Return an error's own words; for the system's errors the file, the cause, what to do."""
    if isinstance(error, OSError) and error.strerror:
        where = f"{error.filename}: " if error.filename else ""
        words = _SYSTEM_WORDS.get(error.errno or 0)
        if words is None:
            words = f"{error.strerror.lower()}; check the name, its permissions and the disk"
        return f"{where}{words}"
    return " ".join(str(error).split())
