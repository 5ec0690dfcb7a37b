"""Sky: what the lens did to real stars, and whether the bench was right."""

from __future__ import annotations

from pathlib import Path

from nightglass.bench.beside import SKY as SKY_FOLDER
from nightglass.bench.beside import files_beside
from nightglass.bench.errors import BenchError
from nightglass.bench.kept import Keeper
from nightglass.bench.skyframes import unmatched_sky_tables
from nightglass.bench.store.store import open_store
from nightglass.frame.many import in_order
from nightglass.gear.benchfile import BenchFile
from nightglass.page.asks import Ask, AskedStep, Typed, nothing, told
from nightglass.page.jobs import Tell, Told
from nightglass.plan.where import where
from nightglass.proof.comparison.bench_and_sky import compare_bench_and_sky
from nightglass.proof.frame_run import KIND as PROOF_KIND
from nightglass.proof.frame_run import measured_bench, sky_frames
from nightglass.show.proof.files import write_proof
from nightglass.show.proof.text import proof_parts
from nightglass.show.sky.frame_report import KIND, Known, frame_report, keep_report
from nightglass.show.sky.report import Section, report_html, write_pictures, write_report
from nightglass.show.words import file_stem


def _map(bench: BenchFile, typed: Typed, tell: Tell) -> Told:
    files = [one.path for one in files_beside(bench, SKY_FOLDER) if one.cause is None]
    place = None if bench.site.place is None else where(None, site=bench.site).place
    known = Known(bench.body.pitch_um, None, None, place, True)
    folder = bench.folder / "out" / "sky"
    folder.mkdir(parents=True, exist_ok=True)
    store, lines, sections = open_store(bench), list[str](), list[Section]()
    written, stems = list[Path](), set[str]()
    try:
        keeper = Keeper(store, KIND, lines.append)
        found = in_order(lambda file: frame_report(file, known, keeper), files)
        for number, file in enumerate(files):
            tell(number, len(files), file.name)
            one = next(found)
            if one.reason is not None or one.section is None:
                lines.append(f"{file.name}: {one.reason or 'no map'}")
                continue
            keep_report(one, keeper, bench)
            sections.append(one.section)
            lines += one.lines
            written += write_pictures(one.svgs, folder, file_stem(file.stem, stems))
    finally:
        store.close()
    if not sections:
        raise BenchError("; ".join(lines) or "no frame of the sky could be read")
    return told(lines, [write_report(report_html(sections, ()), folder), *written])


def _proof(bench: BenchFile, typed: Typed, tell: Tell) -> Told:
    measured = measured_bench(bench)
    files = files_beside(bench, SKY_FOLDER)
    hints = unmatched_sky_tables(bench, files)
    store, faults = open_store(bench), list[str]()
    try:
        keeper = Keeper(store, PROOF_KIND, faults.append)
        frames = sky_frames(files, measured, keeper, lambda done: tell(done, len(files), ""))
    finally:
        store.close()
    found = compare_bench_and_sky(measured.results, frames, bench.body)
    lines = [*proof_parts(found), *hints, *faults]
    return told(lines, write_proof(found, measured, hints))


SKY = AskedStep(
    "sky",
    "Sky",
    "Drop raw frames of a moonless night, taken with lenses of this bench.",
    (
        Ask(
            "map",
            "The lens on real stars",
            "Each frame is solved; lens and motion are told apart, and every part of the frame is "
            "shown with its actual stars.",
            "Measure the sky",
            nothing,
            _map,
            reads_files=True,
        ),
        Ask(
            "proof",
            "Was the bench right?",
            "Bench against sky, place by place: spots, light, stars, glow and the order of lenses.",
            "Hold bench against sky",
            nothing,
            _proof,
            reads_files=True,
        ),
    ),
    "sky",
    "Drop frames of the night sky here",
)
