"""The spots of a lens as they lie in the frame, at one scale: one picture a lens."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

from nightglass.bench.faults.copies import CopyVerdict
from nightglass.bench.faults.report import LensFaults, SettingFaults
from nightglass.gear.body import Body
from nightglass.show.crops import frame_sheet
from nightglass.show.faults.shape_words import SHORT
from nightglass.show.faults.text import clearest_copy
from nightglass.show.whole_file import write_whole
from nightglass.show.words import f_number, file_stem, focal


def write_pictures(lenses: Sequence[LensFaults], body: Body, folder: Path) -> Iterator[Path]:
    """Write a PNG for each lens that has a spot; yield each file.

    Shown is the setting that says most of the copy, else the widest one with a spot. The folder is
    made if it is missing. Raises OSError where it can't be written.
    """
    taken: set[str] = set()
    for lens in lenses:
        shown = _shown(lens)
        if shown is None:
            continue
        folder.mkdir(parents=True, exist_ok=True)
        setting = shown.result.setting
        title = f"{lens.lens}: {focal(setting.focal_mm)}, {f_number(setting.f_number)}"
        words = {shape.place: SHORT[shape.shape] for shape in shown.shapes}
        path = folder / f"faults_{file_stem(lens.lens, taken)}.png"
        yield write_whole(path, frame_sheet(shown.result, body, title, words))


def _shown(lens: LensFaults) -> SettingFaults | None:
    with_spots = [s for s in lens.settings if any(z.stamp is not None for z in s.result.zones)]
    told = clearest_copy(lens)
    if told.copy.verdict is not CopyVerdict.NOT_TESTED and any(told is s for s in with_spots):
        return told
    return next(iter(with_spots), None)
