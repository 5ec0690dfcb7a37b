"""How much memory a process that decodes files may take, and the words where that is not enough."""

from __future__ import annotations

from nightglass.frame.errors import FrameError

ONE_FRAME_BYTES = 4 << 30
"""For a process that opens and measures one frame at a time. Of this a raw file of 60 Mpx needs
0.45 GB, 60 Mpx in three planes of 16 bits 0.9 GB (the libraries' 0.2 GB included):
design/decoder_memory.py."""


def limit_memory(limit_bytes: int) -> None:
    """Let this process, and what it starts, take so much memory of its own and no more.

    What goes beyond raises MemoryError. The limit can't be raised again. Linux only: other systems
    do not count what is mapped, and there nothing is limited.
    """
    try:
        import resource
    except ImportError:
        return
    # Data, not addresses: libraries reserve many more addresses than they use.
    soft, hard = resource.getrlimit(resource.RLIMIT_DATA)
    known = [limit for limit in (soft, hard) if limit != resource.RLIM_INFINITY]
    least = min([limit_bytes, *known])
    resource.setrlimit(resource.RLIMIT_DATA, (least, least))


def memory_limit_bytes() -> int | None:
    """Return how much memory this process may take; None: as much as there is."""
    try:
        import resource
    except ImportError:
        return None
    soft, _ = resource.getrlimit(resource.RLIMIT_DATA)
    return None if soft == resource.RLIM_INFINITY else soft


def needs_more(name: str) -> FrameError:
    """Return the error for a file that this process has not enough memory for."""
    limit = memory_limit_bytes()
    if limit is None:
        cause = "this file needs more memory than is free"
        return FrameError(name, cause, "close other programs, or crop the picture")
    cause = f"this file needs more memory than {limit / 2**30:.2g} GB, which no single frame does"
    return FrameError(name, cause, "crop it, or use single frames")
