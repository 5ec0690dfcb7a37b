"""Files that are refused before or after decoding because their samples would be false."""

from __future__ import annotations

import os
from typing import Any

from numpy.typing import NDArray

from nightglass.frame.errors import FrameError
from nightglass.frame.source import Source
from nightglass.frame.tags import Directory, TiffFacts
from nightglass.optics.arrays import Counts, Floats

RAW_NAMES = frozenset(
    (
        *(".3fr", ".ari", ".arw", ".bay", ".cr2", ".cr3", ".crw", ".dcr", ".dng", ".erf", ".fff"),
        *(".gpr", ".iiq", ".kdc", ".mef", ".mos", ".mrw", ".nef", ".nrw", ".orf", ".pef", ".raf"),
        *(".raw", ".rw2", ".rwl", ".sr2", ".srf", ".srw", ".x3f"),
    )
)
"""Endings of raw files, from the table of formats that the raw decoder opens."""
MOST_PIXELS, MOST_PLANES = 400_000_000, 4
DAMAGED = "the picture data are damaged or cut off"
COPY_AGAIN = "copy the file again from the card"


def refuse_by_directory(source: Source, facts: TiffFacts | None) -> None:
    """Raise FrameError for a file whose samples the decoder would give wrong without a word."""
    if facts is None:
        return
    for directory in facts.directories:
        refuse_size(source, directory.width_px, directory.height_px)
    if any(d.cut_off for d in facts.directories):
        raise FrameError(source.name, DAMAGED, COPY_AGAIN)
    raw = facts.largest_raw() if facts.dng else None
    if raw is None:
        return
    if any(d.misread for d in facts.mosaics):
        cause = "lossless JPEG in strips or in one oversized tile, which the decoder misreads"
        raise FrameError(source.name, cause, "write it with tiles that fit, or uncompressed")
    if raw.floating_point:
        cause = "a DNG of floating-point samples, whose levels the decoder changes"
        raise FrameError(source.name, cause, "write it with whole numbers of 16 bits")
    if raw.parts_missing:
        raise FrameError(source.name, _parts_words(raw.parts_missing), COPY_AGAIN)


def refuse_disguise(source: Source, format_name: str) -> None:
    """Raise FrameError for a picture of the named format under a raw file's name."""
    ending = os.path.splitext(source.name)[1].lower()
    if ending in RAW_NAMES:
        cause = f"a {format_name} under the name of a raw file ({ending})"
        remedy = f"give the raw file itself, or rename it to .{format_name.lower()}"
        raise FrameError(source.name, cause, remedy)


def refuse_size(source: Source, width_px: int, height_px: int, planes: int = 1) -> None:
    """Raise FrameError for a header that tells of more pixels than any single frame has."""
    if width_px * height_px > MOST_PIXELS:
        cause = (
            f"the picture of {width_px} x {height_px} px is too large (at most "
            f"{MOST_PIXELS // 1_000_000} Mpx)"
        )
        raise FrameError(source.name, cause, "crop it, or use the raw file")
    if planes > MOST_PLANES:
        cause, remedy = f"a picture of {planes} planes", "give one grey picture or one of red, "
        raise FrameError(source.name, cause, f"{remedy}green, blue")


def refuse_empty(source: Source, samples: NDArray[Any]) -> None:
    """Raise FrameError where every sample is 0."""
    # A row nearly always tells.
    if not samples[0].any() and not samples.any():
        raise FrameError(source.name, "no picture data in it (every sample is 0)", COPY_AGAIN)


def refuse_holes(source: Source, whole: Counts, black: Floats, directory: Directory | None) -> None:
    """Raise FrameError where a tile or strip holds nothing but 0 though black lies above 0.

    whole: the raw area with its margins, where the parts of the file begin.
    """
    if directory is None or black.min() <= 0 or min(directory.part_px) < 1:
        return
    rows, columns = directory.part_px
    if (rows, columns) == whole.shape[:2]:
        return
    missing = sum(
        not whole[top, left : left + columns].any()
        and not whole[top : top + rows, left : left + columns].any()
        for top in range(0, whole.shape[0], rows)
        for left in range(0, whole.shape[1], columns)
    )
    if missing:
        raise FrameError(source.name, _parts_words(missing), COPY_AGAIN)


def _parts_words(missing: int) -> str:
    return f"{missing} part{'s' if missing > 1 else ''} of the picture without data"
