"""HOW-TO-SHOOT.txt: the protocol in words, with the sizes and distances of this gear."""

from __future__ import annotations

import hashlib
import textwrap
from collections.abc import Sequence
from pathlib import Path

from nightglass.gear.benchfile import BenchFile
from nightglass.shoot.distances import ASSUMED_M
from nightglass.shoot.records import Distance
from nightglass.show.shoot.cautions import CAUTIONS, LOCAL_RULES
from nightglass.show.shoot.sentences import DISTANCE_NOT_TESTED, mm_down
from nightglass.show.shoot.words import metres
from nightglass.show.whole_file import write_whole

SHEET_NAME = "HOW-TO-SHOOT.txt"
_MARK = "Made from bench.toml; nightglass plan makes it anew. Mark of this text: "


def how_to_shoot(bench: BenchFile, distances: Sequence[Distance]) -> str:
    """Return the sheet: protocol, sizes for this gear, cautions, and a mark that tells an edit."""
    cautions = "\n".join(f"- {_folded(line)}" for line in CAUTIONS)
    text = _SHEET.format(
        local_rules=_folded(LOCAL_RULES, ""),
        cautions=cautions,
        body=bench.body.name,
        pitch=bench.body.pitch_um,
        rows="\n".join(_row(d) for d in distances),
        not_tested=_folded(DISTANCE_NOT_TESTED),
        distance=_distance_words(bench),
    )
    return f"{text}\n{_MARK}{_mark(text)}\n"


def write_sheet(text: str, folder: Path) -> tuple[Path, Path | None]:
    """Write the sheet into a bench folder; return its path, and that of an edited one put aside.

    A sheet that a person has changed is not lost: it gets a name of its own. Raises OSError.
    """
    sheet, aside = folder / SHEET_NAME, None
    if sheet.exists() and not is_ours(sheet.read_text(encoding="utf-8", errors="replace")):
        aside = _free_name(folder)
        sheet.rename(aside)
    return write_whole(sheet, text.encode()), aside


def is_ours(text: str) -> bool:
    """Whether a sheet is as this program wrote it."""
    body, found, mark = text.rstrip("\n").rpartition(f"\n{_MARK}")
    return bool(found) and mark == _mark(body)


def _mark(text: str) -> str:
    return hashlib.blake2b(text.encode(), digest_size=6).hexdigest()


def _free_name(folder: Path) -> Path:
    number, path = 1, folder / "HOW-TO-SHOOT-yours.txt"
    while path.exists():
        number += 1
        path = folder / f"HOW-TO-SHOOT-yours-{number}.txt"
    return path


def _distance_words(bench: BenchFile) -> str:
    if bench.bench.distance_m is not None:
        return f"the {bench.bench.distance_m:g} m of bench.toml"
    if bench.plan.room_m is not None:
        return f"a room of {bench.plan.room_m:g} m (room_m in bench.toml)"
    return f"{ASSUMED_M:g} m (say distance_m or room_m in bench.toml for yours)"


def _row(d: Distance) -> str:
    off_axis = max((a.off_axis_degrees or 0.0 for a in d.aims), default=0.0)
    away = metres(d.distance_m) if d.distance_m is not None else "no room"
    stand = metres(d.room_m) if d.room_m is not None else "-"
    return (
        f"  {d.focal_mm:5g} mm  {away:>9}  {mm_down(d.largest_source_mm):>13}  "
        f"{off_axis:12.0f} degrees  {stand:>10}   {d.lens}"
    )


def _folded(text: str, indent: str = "  ") -> str:
    return f"\n{indent}".join(textwrap.wrap(text, 98 - len(indent)))


_SHEET = """HOW TO SHOOT THE BENCH

{local_rules}

CAUTIONS
{cautions}

THE STAR
- A steady LED (battery or direct current, no dimmer that flickers) behind a pinhole, at lens
  height, before a black background. Dark room, no heater near the line of sight.
- The pinhole is so small that its image stays within half a pixel at every place of bench.toml.
  For {body} ({pitch:g} um), with {distance}:

  focal      distance  pinhole up to  farthest place off axis  stand back

{rows}

- Off axis the star must stay in the plane you focused on: stand back to L / cos(angle), L being
  the distance on the axis (last column of numbers: for the farthest place).
- {not_tested}

THE CAMERA
- Raw, lossless, no long-exposure noise reduction, no lens corrections, no front filter,
  stabiliser and autofocus off. The same shutter mode as on the night.
- Heavy tripod, delayed or remote release, electronic first curtain if there is one.
- Expose so that the brightest raw sample stands at 40-70 % of full scale: the star must not clip.
  Any ISO; write it down if the camera does not.

THE FRAMES
- nightglass plan FOLDER lists them all: which setting, which place, how many repeats.
- Refocus before EACH repeat: only that gives the real scatter. Nudge the camera a little, so
  that the star falls on other pixels.
- Places: the centre and all four corners show whether one side is bad; the star stays a tenth of
  the picture height away from the edges.
- Focus at the working f-number, with the star where you would focus under the sky, then turn
  the camera: refocusing in the corners hides what the sky will show.
- Shoot one reference lens first, in the middle and last: it shows drift.
- Manual lenses write no f-number and no focal length: keep such frames in folders of their own
  below frames/ and say what they are under [[frames]] in bench.toml.

THE SENSOR (once per body; which ISO to set comes from it)
- At each ISO of the night: two frames with the cap on at 1/4000 s, and pairs of a white screen out
  of focus at six to ten shutter times; at one ISO two frames with the cap on at the night's time,
  and one overexposed frame. Copy them into sensor/ and run  nightglass sensor FOLDER

THEN
- Copy the raw files as they are into frames/ (folders below it are fine).
- nightglass watch FOLDER, while you shoot: it says at once whether a frame is good.
- nightglass measure FOLDER
"""
