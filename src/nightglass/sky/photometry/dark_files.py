"""Dark frames from files: what they say of raw filtering, and which files are none."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from nightglass.frame.errors import FrameError, in_one_line
from nightglass.frame.open import open_frame
from nightglass.sky.photometry.dark_frame import dark_samples
from nightglass.sky.photometry.filtering import Filtering, judge


def filtering_of(
    darks: Sequence[Path],
) -> tuple[tuple[Filtering, ...], list[tuple[str, str]]]:
    """Return the verdicts on dark frames, and the files that are none with their reasons."""
    samples, refused = [], []
    for file in darks:
        try:
            samples.append(dark_samples(open_frame(file)))
        except (FrameError, ValueError, OSError) as error:
            refused.append((str(file), in_one_line(error)))
    return (judge(samples) if samples else ()), refused
