"""Which frame belongs to what: metadata, and what the person typed, which wins."""

from __future__ import annotations

import fnmatch
import math
from collections.abc import Sequence
from dataclasses import dataclass, fields
from functools import lru_cache

from nightglass.bench.bodies import body_of, seen_on_record
from nightglass.bench.codes import BenchNote, BenchNoteCode
from nightglass.bench.files import spelled
from nightglass.bench.store.rows import FrameOnRecord
from nightglass.gear.benchfile import BenchFile, FrameRule, Place
from nightglass.gear.kinds import LONGEST_EXPOSURE_S
from nightglass.gear.lens import Lens, LensSetting

FOCAL_SLACK = 0.06
"""Recorded against marked focal length; marks are within 5 % of the truth (common practice)."""
ZOOM_STEP_MM = 1.0
SKY_PREFIX = "sky/"
"""How patterns begin that are meant for frames of the sky, beside frames/."""
FLATS_PREFIX = "flats/"
"""As SKY_PREFIX, for frames of an even light."""


@dataclass(frozen=True)
class Belongs:
    """What a frame belongs to."""

    setting: LensSetting
    iso: int | None
    exposure_s: float | None
    place: str | None
    """As typed; None: from where the star was found."""
    session: str
    """As typed; "": told by time (bench.combined.session_names)."""
    notes: tuple[BenchNote, ...] = ()
    series: str | None = None
    """The study that the frame belongs to; it takes no part in the ranking."""
    focus_mark: float | None = None
    """Where the focus stood, in the person's own unit."""
    refocused: bool | None = None
    """None: not said."""
    distance_m: float | None = None
    """As said of the frame, else of the bench."""
    source_diameter_mm: float | None = None
    """As said of the frame, else of the bench."""
    roll_degrees: float | None = None


@dataclass(frozen=True)
class NotUsed:
    """Why a frame belongs to nothing, and what to do."""

    reason: str


def rule_for(path: str, rules: Sequence[FrameRule]) -> FrameRule:
    """Return what the person typed about a file: later rules win, key by key."""
    name = spelled(path)
    said: dict[str, object] = {"match": path}
    for rule in rules:
        if fnmatch.fnmatchcase(name, spelled(rule.match)):
            given = {f.name: getattr(rule, f.name) for f in fields(rule) if f.name != "match"}
            said |= {key: value for key, value in given.items() if value is not None}
    return FrameRule(**said)  # type: ignore[arg-type]


def unmatched_rules(
    bench: BenchFile, frames: Sequence[str], sky: Sequence[str] = ()
) -> tuple[str, ...]:
    """Return one line for each [[frames]] table of the bench whose pattern fits no file.

    frames: names below frames/; sky: names below sky/, "sky/..." as they are matched. Tables that
    begin with sky/ are for the proof: unmatched_sky_rules.
    """
    names = [spelled(path) for path in (*frames, *sky)]
    return tuple(
        _fits_none(rule, "frames/")
        for rule in bench.frames
        if not rule.match.startswith((SKY_PREFIX, FLATS_PREFIX))
        and not fnmatch.filter(names, spelled(rule.match))
    )


def unmatched_sky_rules(bench: BenchFile, sky: Sequence[str]) -> tuple[str, ...]:
    """Return one line for each [[frames]] table that begins with sky/ and fits no file there.

    sky: names as they are matched, "sky/...".
    """
    names = [spelled(path) for path in sky]
    return tuple(
        _fits_none(rule, SKY_PREFIX)
        for rule in bench.frames
        if rule.match.startswith(SKY_PREFIX) and not fnmatch.filter(names, spelled(rule.match))
    )


def _fits_none(rule: FrameRule, folder: str) -> str:
    return (
        f'bench.toml, line {rule.line}: [[frames]] match = "{rule.match}" fits no file below '
        f"{folder}; a * stands for any letters, folders included"
    )


def belongs_to(frame: FrameOnRecord, bench: BenchFile) -> Belongs | NotUsed:
    """Return what a frame belongs to, of whichever body of the bench, or why it can't be used."""
    said = rule_for(frame.path, bench.frames)
    if said.leave_out:
        return NotUsed(f"left out in bench.toml: {said.leave_out}")
    body = body_of(seen_on_record(frame), bench.bodies, said.body)
    if isinstance(body, str):
        return NotUsed(body)
    wrong = _absurd(frame, said)
    if wrong:
        return NotUsed(wrong)
    lens = _lens(frame, bench, said)
    if isinstance(lens, NotUsed):
        return lens
    focal = _focal_mm(frame, lens, said)
    if isinstance(focal, NotUsed):
        return focal
    recorded = frame.metadata
    f_number = said.f_number or recorded.f_number
    if not f_number:
        return NotUsed(_ask("the f-number is not recorded", "f_number = 2.8"))
    marked = float(f"{f_number:.2g}")
    assumed = BenchNote(BenchNoteCode.BODY_ASSUMED, body=body.name)
    return Belongs(
        LensSetting(body.name, lens.name, focal, marked),
        iso=said.iso or recorded.iso,
        exposure_s=said.exposure_s or recorded.exposure_true_s or recorded.exposure_marked_s,
        place=said.place,
        session=said.session or bench.bench.session or "",
        notes=() if recorded.body or said.body else (assumed,),
        series=said.series,
        focus_mark=said.focus_mark,
        refocused=said.refocused,
        distance_m=said.distance_m or bench.bench.distance_m,
        source_diameter_mm=said.source_diameter_mm or bench.bench.source_diameter_mm,
        roll_degrees=said.roll_degrees,
    )


def of_its_body(belongs: Belongs | NotUsed, bench: BenchFile) -> Belongs | NotUsed:
    """Return what a frame belongs to where its body is the one that the bench is seen by."""
    if isinstance(belongs, NotUsed) or belongs.setting.body == bench.body.name:
        return belongs
    other = belongs.setting.body
    return NotUsed(f'taken with {other}; its frames count with --body "{other}"')


def nearest_place(
    x_px: float, y_px: float, size_px: tuple[int, int], places: Sequence[Place]
) -> str | None:
    """Return the name of the nearest place that is near enough, or None.

    size_px: width and height of the frame. Distances count in % of picture height.
    """
    width, height = size_px
    best: tuple[float, str] | None = None
    for place in places:
        dx = x_px + 0.5 - place.x_percent / 100 * width
        dy = y_px + 0.5 - place.y_percent / 100 * height
        away = 100 * math.hypot(dx, dy) / min(width, height)
        if away <= place.within_percent and (best is None or away < best[0]):
            best = away, place.name
    return best[1] if best else None


def place_from_position(x_px: float, y_px: float, size_px: tuple[int, int]) -> str:
    """Return a name made from a position: "x 72 %, y 31 %"."""
    return f"x {100 * (x_px + 0.5) / size_px[0]:.0f} %, y {100 * (y_px + 0.5) / size_px[1]:.0f} %"


def _ask(what: str, example: str) -> str:
    return f"{what}; say it in bench.toml: [[frames]] with {example}"


@lru_cache(maxsize=4096)
def _words(name: str) -> str:
    return " ".join(spelled(name).split())


def _absurd(frame: FrameOnRecord, said: FrameRule) -> str | None:
    """A recorded value that no camera means; typed ones were checked with bench.toml."""
    recorded = frame.metadata
    checks = (
        ("f_number", recorded.f_number, 0.5, 64.0, "f/{:g}", "f_number = 2.8"),
        ("focal_mm", recorded.focal_mm, 0.1, 2000.0, "{:g} mm", "focal_mm = 12"),
        ("iso", recorded.iso, 10, 10_000_000, "ISO {:g}", "iso = 800"),
        ("exposure_s", recorded.exposure_true_s, 1e-6, LONGEST_EXPOSURE_S, "{:g} s",
         "exposure_s = 0.5"),
    )  # fmt: skip
    for key, value, least, most, words, example in checks:
        if getattr(said, key) is None and value is not None and not least <= value <= most:
            return _ask(f"the file says {words.format(value)}, which can't be", example)
    return None


def _lens(frame: FrameOnRecord, bench: BenchFile, said: FrameRule) -> Lens | NotUsed:
    if said.lens:
        lens = bench.lens(said.lens)
        return lens or NotUsed(f'the lens "{said.lens}" is not in bench.toml')
    bag = ", ".join(lens.name for lens in bench.lenses)
    recorded = frame.metadata.lens
    if not recorded:
        example = f'lens = "{bench.lenses[0].name}" (the bag has {bag})'
        return NotUsed(_ask("the lens is not recorded", example))
    fits = [
        lens
        for lens in bench.lenses
        if _words(recorded) in {_words(name) for name in (lens.name, *lens.recorded_as)}
    ]
    serial = frame.metadata.lens_serial
    if len(fits) > 1:
        fits = [lens for lens in fits if serial and lens.serial == serial]
        if len(fits) != 1:
            return NotUsed(
                f'"{recorded}" (serial {serial or "not recorded"}) stands for several lenses in '
                'bench.toml; give each its serial, or say which under [[frames]] with lens = "..."'
            )
    if not fits:
        return NotUsed(
            f'the lens "{recorded}" is not in the bag ({bag}); add a [[lens]], or this name to '
            "recorded_as of one"
        )
    if serial and fits[0].serial and serial != fits[0].serial:
        return NotUsed(
            f"{fits[0].name} with serial {serial}, but bench.toml has {fits[0].serial}; another "
            "copy needs a [[lens]] of its own"
        )
    return fits[0]


def _focal_mm(frame: FrameOnRecord, lens: Lens, said: FrameRule) -> float | NotUsed:
    focal = said.focal_mm or frame.metadata.focal_mm
    low, high = lens.focal_mm_min, lens.focal_mm_max
    if focal and not low * (1 - FOCAL_SLACK) <= focal <= high * (1 + FOCAL_SLACK):
        span = f"{low:g} mm" if not lens.is_zoom else f"{low:g} to {high:g} mm"
        return NotUsed(
            f"{focal:g} mm, but {lens.name} has {span}; correct the lens or focal_mm under "
            "[[frames]]"
        )
    if not lens.is_zoom:
        return low
    if not focal:
        return NotUsed(_ask("the focal length of a zoom is not recorded", f"focal_mm = {low:g}"))
    # The ring never stops twice at the same tenth; marks stand whole millimetres apart.
    step = focal if said.focal_mm else round(focal / ZOOM_STEP_MM) * ZOOM_STEP_MM
    return min(max(step, low), high)
