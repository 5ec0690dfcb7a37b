"""What nightglass sky does with one frame, in a thread of its own; and which files it takes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from nightglass.cli.doors import in_one_line

if TYPE_CHECKING:
    from nightglass.almanac.place import Place
    from nightglass.show.sky.report import Section
    from nightglass.sky.observe import Observation
    from nightglass.sky.photometry.filtering import Filtering


@dataclass(frozen=True)
class Known:
    """What the person said of all frames."""

    pitch_um: float | None
    focal_mm: float | None
    exposure_s: float | None
    place: Place | None
    with_pictures: bool


@dataclass(frozen=True)
class Told:
    """One frame told; reason is why nothing could be, then the rest is empty."""

    reason: str | None = None
    data: dict[str, Any] = field(default_factory=dict)
    lines: list[str] = field(default_factory=list)
    svgs: Mapping[str, str] = field(default_factory=dict)
    section: Section | None = None


def tell(file: Path, known: Known) -> Told:
    """Return everything that a file gives; the frame itself is let go of.

    Whatever a file's samples break, it is told as this file's: the other frames go on.
    """
    from nightglass.frame.errors import FrameError

    try:
        return _all_of(file, known)
    except (FrameError, ValueError, OSError) as error:
        return Told(reason=in_one_line(error))
    except (ArithmeticError, LookupError) as error:
        cause = f"{type(error).__name__}: {in_one_line(error)}"
        return Told(
            reason=f"{file.name}: its samples can't be worked on ({cause}); other frames go on"
        )


def _all_of(file: Path, known: Known) -> Told:
    from nightglass.frame.open import open_frame
    from nightglass.show.sky.frame_text import as_data, in_words
    from nightglass.show.sky.place_words import place_data, place_words
    from nightglass.show.sky.report import pictures, section_of
    from nightglass.show.sky.sheet import sheet_of
    from nightglass.sky.observe import observe

    frame = open_frame(file)
    seen = observe(
        frame, known.pitch_um, known.focal_mm, exposure_s=known.exposure_s, place=known.place
    )
    seen = _with_options(seen, known)
    data = as_data(seen, str(file))
    lines: list[str] = []
    up_side = None
    if seen.placed is not None:
        data |= place_data(seen.placed)
        data["notes"] += seen.placed.notes
        lines = place_words(seen.placed)
        up_side = None if seen.placed.moment is None else seen.placed.moment.up_side
    told = [*in_words(seen, str(file)), *(f"  {line}" for line in lines)]
    if not known.with_pictures:
        return Told(data=data, lines=told)
    sheet = sheet_of(seen, lines, file.name, up_side)
    svgs = pictures(sheet)
    return Told(data=data, lines=told, svgs=svgs, section=section_of(sheet, svgs))


def _with_options(seen: Observation, known: Known) -> Observation:
    """Add to the advice on a frame that was searched in vain which options say more of it."""
    from nightglass.sky.astrometry.solve import Unsolved
    from nightglass.sky.looks import hopeless

    if not (isinstance(seen.solution, Unsolved) and seen.solution.tried):
        return seen
    if hopeless(seen.notes):
        other = replace(seen.solution, advice="another frame, as the note says; no option helps")
        return replace(seen, solution=other)
    recorded_mm = seen.frame.metadata.focal_mm
    if known.focal_mm is not None:
        focal = f"check the {known.focal_mm:g} mm of --focal-mm"
    elif recorded_mm is not None:
        focal = f"--focal-mm if the lens was not at the {recorded_mm:g} mm that the file says"
    else:
        focal = "--focal-mm for the focal length, which the file does not say"
    pitch = (
        "--pitch-um for the pixel pitch (1000 x the sensor's width in mm / pixels across)"
        if known.pitch_um is None
        else f"check the {known.pitch_um:g} um of --pitch-um"
    )
    advice = f"{seen.solution.advice}; options: {focal}; {pitch}"
    return replace(seen, solution=replace(seen.solution, advice=advice))


def listed(paths: Sequence[Path]) -> list[Path]:
    """Return the files of a list, each once, in which folders stand for the files below them.

    Raises ValueError for a folder without files.
    """
    from nightglass.bench.files import find_files

    files: dict[Path, Path] = {}
    for path in paths:
        below = [path]
        if path.is_dir():
            below = [path / found.path for found in find_files(path).files]
            if not below:
                raise ValueError(f"{path}: no files in this folder; name raw files of the sky")
        for file in below:
            # However it is spelled, a file is taken once.
            files.setdefault(file.resolve(), file)
    return list(files.values())


def judged(
    darks: Sequence[Path],
) -> tuple[tuple[Filtering, ...], list[tuple[str, str]]]:
    """Return the verdicts on dark frames, and the files that are none with their reasons."""
    from nightglass.frame.errors import FrameError
    from nightglass.frame.open import open_frame
    from nightglass.sky.photometry.dark_frame import dark_samples
    from nightglass.sky.photometry.filtering import judge

    samples, refused = [], []
    for file in darks:
        try:
            samples.append(dark_samples(open_frame(file)))
        except (FrameError, ValueError, OSError) as error:
            refused.append((str(file), in_one_line(error)))
    return (judge(samples) if samples else ()), refused
