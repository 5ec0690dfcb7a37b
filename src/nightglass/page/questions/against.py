"""Settings side by side, what is wrong with a lens, and what finishing did to stars."""

from __future__ import annotations

from pathlib import Path

from nightglass.bench.across.compare import compare_bodies
from nightglass.bench.errors import BenchError
from nightglass.bench.factors.study import factor_studies
from nightglass.bench.faults.report import find_faults
from nightglass.bench.files import find_files
from nightglass.bench.focus.measure import fields_on_record
from nightglass.bench.study.repeats import results_on_record
from nightglass.finish.run import finished
from nightglass.frame.errors import FrameError
from nightglass.gear.benchfile import BenchFile
from nightglass.page.asks import RELEASE, Ask, AskedStep, Field, Settings, Typed, nothing, told
from nightglass.page.jobs import Tell, Told
from nightglass.patch.made import MadeAs
from nightglass.patch.on_record import looked_on_record, patch_wish
from nightglass.show.bodies.text import report_parts as bodies_parts
from nightglass.show.factors.chart import write_factors_chart
from nightglass.show.factors.words import NO_STUDY
from nightglass.show.factors.words import report_lines as factors_lines
from nightglass.show.faults.text import report_parts as faults_parts
from nightglass.show.finish.sheet import write_sheets
from nightglass.show.finish.text import finish_parts
from nightglass.show.patch.sheet import write_all
from nightglass.show.patch.words import look_lines
from nightglass.show.ranking.files import write_pair
from nightglass.show.ranking.pair_text import pair_parts
from nightglass.show.words import f_number, focal
from nightglass.verdict.on_record import pair_on_record
from nightglass.verdict.purpose import with_choices

PURPOSES = (
    ("", "as the bench says"),
    ("phone", "phone"),
    ("screen", "screen"),
    ("print 60 cm wide seen from 1 m", "print 60 cm wide seen from 1 m"),
)
WAYS = (
    (MadeAs.SINGLE.value, "a single frame"),
    (MadeAs.STACK.value, "a stack"),
    (MadeAs.PANORAMA.value, "a panorama of the other's field"),
)
FINISH_FOLDER = "finish"


def _pair(settings: Settings) -> tuple[Field, Field]:
    words = [f"{s.lens} at {focal(s.focal_mm)} {f_number(s.f_number)}" for s in settings()]
    known = tuple((one, one) for one in words)
    last = known[-1][0] if known else ""
    return (
        Field("one", "One setting", "choice", choices=known),
        Field("other", "The other", "choice", value=last, choices=known),
    )


def _compare_fields(bench: BenchFile, settings: Settings) -> tuple[Field, ...]:
    return (
        *_pair(settings),
        Field("purpose", "Looked at as", "choice", choices=PURPOSES),
        RELEASE,
    )


def _look_fields(bench: BenchFile, settings: Settings) -> tuple[Field, ...]:
    names = dict.fromkeys(["centre", *(place.name for place in bench.places)])
    places = tuple((name, name) for name in names)
    return (
        *_pair(settings),
        Field("place", "Place of the frame", "choice", value="centre", choices=places),
        Field("frames", "Frames stacked of each", hint="1,4"),
        Field("minutes", "Or the same minutes for both", "number", hint="10"),
        Field("one_as", "In them, one setting makes", "choice", value="stack", choices=WAYS),
        Field("other_as", "In them, the other makes", "choice", value="stack", choices=WAYS),
    )


def _both(typed: Typed) -> tuple[str, str]:
    one, other = typed.text("one"), typed.text("other")
    if one is None or other is None:
        raise ValueError("no settings to compare; measure frames of at least two settings first")
    return one, other


def _compare(bench: BenchFile, typed: Typed, tell: Tell) -> Told:
    asked = with_choices(bench, typed.text("purpose"), typed.remote())
    pair, results = pair_on_record(asked, *_both(typed))
    picture = write_pair(results, bench.body, bench.folder / "out")
    return told(pair_parts(pair), [] if picture is None else [picture])


def _look(bench: BenchFile, typed: Typed, tell: Tell) -> Told:
    minutes = typed.number("minutes", "10")
    ways = ",".join(typed.text(name) or MadeAs.STACK for name in ("one_as", "other_as"))
    wish = patch_wish(
        bench, typed.text("place") or "centre", "270.0 -24.0", typed.text("frames"), minutes,
        None if minutes is None else ways,
    )  # fmt: skip
    found, eye, pairs = looked_on_record(bench, *_both(typed), wish)
    folder = bench.folder / "out" / "look"
    return told(look_lines(found), write_all(found, eye, pairs, folder))


def _faults(bench: BenchFile, typed: Typed, tell: Tell) -> Told:
    found = find_faults(results_on_record(bench), bench.body, fields_on_record(bench))
    if not found:
        raise BenchError("no spot is on record yet; drop and measure frames first")
    return told(faults_parts(found, bench.body))


def _bodies(bench: BenchFile, typed: Typed, tell: Tell) -> Told:
    if not bench.other_bodies:
        raise BenchError(
            f"this bench has one body only, {bench.body.name}; describe the other one in "
            "bench.toml as an [[other_body]]"
        )
    results = {body.name: results_on_record(bench.on_body(body.name)) for body in bench.bodies}
    return told(bodies_parts(compare_bodies(bench.bodies, results)))


def _factors(bench: BenchFile, typed: Typed, tell: Tell) -> Told:
    studies = factor_studies(bench)
    if not studies:
        return told([NO_STUDY])
    return told(factors_lines(studies), write_factors_chart(studies, bench.folder / "out"))


def _finish_fields(bench: BenchFile, settings: Settings) -> tuple[Field, ...]:
    folder = bench.folder / FINISH_FOLDER
    names = [file.path for file in find_files(folder).files] if folder.is_dir() else []
    return (
        Field("reference", "What it should look like", "choice", choices=[(n, n) for n in names]),
    )


def _finish(bench: BenchFile, typed: Typed, tell: Tell) -> Told:
    folder = bench.folder / FINISH_FOLDER
    names = [file.path for file in find_files(folder).files] if folder.is_dir() else []
    reference = typed.text("reference")
    if reference not in names or len(names) < 2:
        raise ValueError(
            "drop at least two pictures: the raw frame, and what was developed from it; then say "
            "which is the frame"
        )
    pictures = [str(folder / name) for name in names if name != reference]
    unread: list[FrameError] = []
    started: list[str] = []

    def begun(path: str) -> None:
        tell(len(started), len(names), Path(path).name)
        started.append(path)

    found = finished(str(folder / reference), pictures, unread.append, begun)
    lines = [*finish_parts(found), *map(str, unread)]
    return told(lines, write_sheets(found, bench.folder / "out" / FINISH_FOLDER))


COMPARE = AskedStep(
    "compare",
    "Compare",
    "Two settings side by side: in numbers, and as a patch of the real sky.",
    (
        Ask(
            "compare",
            "Side by side",
            "Blur, light, stars and glow of two settings, and what of it shows.",
            "Compare",
            _compare_fields,
            _compare,
        ),
        Ask(
            "look",
            "As you would see it",
            "One patch of the sky as both settings record it, for phone, screen and print.",
            "Draw the patch",
            _look_fields,
            _look,
        ),
    ),
)
CHECKS = AskedStep(
    "checks",
    "Checks",
    "What is wrong with a lens, and what besides the lens moves the number.",
    (
        Ask(
            "faults",
            "Faults of each lens",
            "An uneven copy, the fault behind the blur, and what helps against it.",
            "Look for faults",
            nothing,
            _faults,
        ),
        Ask(
            "bodies",
            "One lens on two cameras",
            "Each lens against itself: in pixels, in micrometres and in % of picture height.",
            "Compare",
            nothing,
            _bodies,
        ),
        Ask(
            "factors",
            "What else moves the number",
            "Exposure, ISO, distance, source and focus, where frames differ in one of them.",
            "Work it out",
            nothing,
            _factors,
        ),
    ),
)
FINISH = AskedStep(
    "finish",
    "Finish",
    "What noise reduction, sharpening and export did to the stars of your pictures.",
    (
        Ask(
            "finish",
            "Developed pictures against their frame",
            "Drop the raw frame and what you developed from it: TIFF, PNG or JPEG.",
            "Hold them against the frame",
            _finish_fields,
            _finish,
            reads_files=True,
        ),
    ),
    FINISH_FOLDER,
    "Drop the frame and its pictures here",
)
