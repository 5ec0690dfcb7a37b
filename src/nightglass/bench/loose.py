"""Measuring loose files, one after the other, without a bench."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from nightglass.bench.measuring.jobs import MEASURER, OPENER, load
from nightglass.frame.errors import FrameError
from nightglass.spot.record import Spot


@dataclass(frozen=True)
class LooseFile:
    """One file: its spots, or the reason why there are none."""

    file: str
    spots: tuple[Spot, ...] = ()
    refused: str | None = None
    picture_height_px: int = 0
    notes: tuple[str, ...] = ()


def measure_files(
    files: Iterable[Path],
    near_px: tuple[float, float] | None = None,
    *,
    image: str | None = None,
    measurer: str = MEASURER,
    opener: str = OPENER,
) -> Iterator[LooseFile]:
    """Yield what each file gave, in their order; a file that can't be read has a reason instead.

    image: which image of FITS files that hold several.
    """
    open_file, measure = load(opener), load(measurer)
    if image is not None:
        open_file = partial(open_file, image=image)
    for file in files:
        try:
            frame = open_file(str(file))
        except FrameError as error:
            yield LooseFile(error.file, refused=f"{error.cause}; {error.remedy}")
            continue
        measured = measure(frame, near=near_px)
        yield LooseFile(
            frame.file or str(file),
            measured.spots,
            picture_height_px=frame.picture_height_px,
            notes=frame.notes,
        )


def percent_of_height(length_px: float | None, picture_height_px: int) -> float | None:
    """Return a length in % of picture height; None stays None."""
    return None if length_px is None else 100 * length_px / picture_height_px
