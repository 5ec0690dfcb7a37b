"""One file of the sky, from opening it to its lines, data and pictures."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from nightglass.almanac.place import Place
from nightglass.bench.assign import NotUsed, belongs_to
from nightglass.bench.beside import record_beside
from nightglass.bench.falloff import keep_falloff
from nightglass.bench.files import hash_file
from nightglass.bench.kept import Keeper, question_key
from nightglass.bench.skyframes import sky_name
from nightglass.bench.store.rows import FrameOnRecord
from nightglass.frame.errors import FrameError, in_one_line
from nightglass.frame.open import open_frame
from nightglass.gear.benchfile import BenchFile
from nightglass.light.falloff import PupilFalloff
from nightglass.show.sky.frame_text import as_data, in_words
from nightglass.show.sky.report import Section, pictures, section_of
from nightglass.show.sky.sheet import sheet_of
from nightglass.show.sky.words.place import place_data, place_words
from nightglass.sky.falloff import frame_falloff
from nightglass.sky.observe import observe

KIND = "sky frame"


@dataclass(frozen=True)
class Known:
    """What the person said of all frames."""

    pitch_um: float | None
    focal_mm: float | None
    exposure_s: float | None
    place: Place | None
    with_pictures: bool


@dataclass(frozen=True)
class FrameReport:
    """What is said of one frame; reason is why nothing can be, then the rest is empty."""

    reason: str | None = None
    data: dict[str, Any] = field(default_factory=dict)
    lines: list[str] = field(default_factory=list)
    svgs: Mapping[str, str] = field(default_factory=dict)
    section: Section | None = None
    key: str | None = None
    """Under which it is to be kept; None for one that came from the store."""
    frame: FrameOnRecord | None = None
    """The frame's name, content and metadata: what it belongs to on a bench."""
    falloff: PupilFalloff | None = None


def frame_report(file: Path, known: Known, keeper: Keeper) -> FrameReport:
    """Return everything that a file gives; the frame itself is let go of.

    An unchanged file of which the same was asked comes from the store, if keeper has one. Whatever
    a file's samples break, it is said of this file: the other frames go on.
    """
    try:
        key = question_key(hash_file(file), str(file), known)
        found = keeper.find(key, FrameReport)
        if found is not None:
            return found
        made = _all_of(file, known)
    except (FrameError, ValueError, OSError) as error:
        return FrameReport(reason=in_one_line(error))
    except (ArithmeticError, LookupError) as error:
        cause = f"{type(error).__name__}: {in_one_line(error)}"
        return FrameReport(
            reason=f"{file.name}: its samples can't be worked on ({cause}); other frames go on"
        )
    return replace(made, key=key)


def _all_of(file: Path, known: Known) -> FrameReport:
    frame = open_frame(file)
    seen = observe(
        frame, known.pitch_um, known.focal_mm, exposure_s=known.exposure_s, place=known.place
    )
    data = as_data(seen, str(file))
    lines: list[str] = []
    up_side = None
    circumstances = seen.circumstances
    if circumstances is not None:
        data |= place_data(circumstances)
        lines = place_words(circumstances)
        up_side = None if circumstances.moment is None else circumstances.moment.up_side
    text = [*in_words(seen, str(file)), *(f"  {line}" for line in lines)]
    record = record_beside(sky_name(file), frame)
    told = FrameReport(data=data, lines=text, frame=record, falloff=frame_falloff(seen))
    if not known.with_pictures:
        return told
    sheet = sheet_of(seen, lines, file.name, up_side)
    svgs = pictures(sheet)
    return replace(told, svgs=svgs, section=section_of(sheet, svgs))


def keep_report(found: FrameReport, keeper: Keeper, bench: BenchFile | None) -> None:
    """Keep a new report; a setting of the bench keeps the falloff that the frame shows."""
    if found.key is None:
        return
    keeper.keep(found.key, replace(found, key=None))
    if bench is None or found.frame is None or found.falloff is None:
        return
    belongs = belongs_to(found.frame, bench)
    if not isinstance(belongs, NotUsed):
        keep_falloff(keeper, belongs.setting, found.frame.content_hash, found.falloff)
