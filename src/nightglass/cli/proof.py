"""nightglass proof: hold the bench against frames of the real sky."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from nightglass.cli.bench_options import FolderArgument, JsonOption
from nightglass.cli.doors import FAILED, in_one_line, print_json

if TYPE_CHECKING:
    from nightglass.almanac.place import Place
    from nightglass.bench.skyframes import SkyFile
    from nightglass.gear.benchfile import BenchFile
    from nightglass.proof.frames import Bench
    from nightglass.proof.records import Proof, SkyFrame


def proof(
    folder: FolderArgument = Path(),
    as_json: JsonOption = False,
    charts: Annotated[
        bool,
        typer.Option(
            "--charts/--no-charts", help="Write the page (HTML) and the chart (SVG, PNG) into out/."
        ),
    ] = True,
) -> None:
    """Compare the bench with frames of the sky in its folder sky/, place by place.

    Frames belong to lens settings as those of the bench do: by what the camera wrote, and by
    [[frames]] tables of bench.toml whose match begins with sky/. Every frame is listed; the exit
    code is 1 if one of them could not be compared.
    """
    from nightglass.bench.skyframes import sky_files, unmatched_sky_tables
    from nightglass.bench.study.repeats import results_on_record
    from nightglass.frame.many import in_order
    from nightglass.gear.bag import read_bench_file
    from nightglass.proof.frames import Bench
    from nightglass.proof.prove import prove
    from nightglass.show.proof.data import proof_data
    from nightglass.show.proof.text import next_step, proof_lines

    file = read_bench_file(folder)
    bench = Bench(results_on_record(file), file, _place(file))
    files = sky_files(file)
    said = unmatched_sky_tables(file, files)
    frames = []
    with _progress(len(files), quiet=as_json) as told:
        for frame in in_order(lambda one: frame_of(one, bench), files):
            frames.append(frame)
            told()
    found = prove(bench.results, frames, file.body)
    if not as_json:
        print("\n".join([*proof_lines(found), *said, ""]), flush=True)
    written = _write(found, bench, said) if charts else []
    if as_json:
        page = {"page": str(written[0])} if written else {}
        print_json({**proof_data(found), "hints": list(said), **page})
    else:
        print("\n".join([*(f"written: {path}" for path in written), f"Next: {next_step(found)}"]))
    if any(frame.reason is not None for frame in frames):
        raise typer.Exit(FAILED)


@contextmanager
def _progress(total: int, quiet: bool) -> Iterator[Callable[[], None]]:
    """A bar on the terminal's error output, as the other commands have."""
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn

    columns = (TextColumn("frames of the sky"), BarColumn(), MofNCompleteColumn())
    still = quiet or not sys.stderr.isatty()
    with Progress(*columns, console=Console(stderr=True), transient=True, disable=still) as bar:
        task = bar.add_task("", total=total)
        yield lambda: bar.advance(task)


def frame_of(file: SkyFile, bench: Bench) -> SkyFrame:
    """Return what a frame of the sky gave, or the reason why nothing can be compared."""
    from nightglass.bench.assign import NotUsed
    from nightglass.bench.skyframes import sky_belongs
    from nightglass.frame.errors import FrameError
    from nightglass.frame.open import open_frame
    from nightglass.proof.frames import sky_frame
    from nightglass.proof.records import SkyFrame
    from nightglass.sky.observe import observe

    if file.cause is not None:
        why = f"can't be read ({file.cause}); check its permissions"
        return SkyFrame(file.name, None, reason=why)
    try:
        frame = open_frame(file.path)
    except (FrameError, OSError) as error:
        return SkyFrame(file.name, None, reason=in_one_line(error))
    belongs = sky_belongs(file.name, frame, bench.file)
    if isinstance(belongs, NotUsed):
        return SkyFrame(file.name, None, reason=belongs.reason)
    setting, seconds = belongs.setting, belongs.exposure_s
    lens = bench.file.lens(setting.lens)
    known = setting.focal_mm, lens.projection if lens else None, seconds
    try:
        seen = observe(frame, bench.file.body.pitch_um, *known, bench.place)
        return sky_frame(file.name, setting, seen, bench, seconds, belongs.iso)
    except ValueError as error:
        return SkyFrame(file.name, setting, reason=in_one_line(error))


def _place(bench: BenchFile) -> Place | None:
    """The site of bench.toml, if it names one."""
    from nightglass.plan.where import where

    return where(None, None, None, None, bench.site).place if bench.site.place else None


def _write(found: Proof, bench: Bench, hints: tuple[str, ...]) -> list[Path]:
    """Write page and chart into out/ of the bench; return their paths, the page first."""
    from nightglass.proof.assumptions import proof_assumptions
    from nightglass.show.page import write_page
    from nightglass.show.proof.chart import write_proof_chart
    from nightglass.show.proof.page import PAGE, proof_html

    out = bench.file.folder / "out"
    out.mkdir(exist_ok=True)
    charts = list(write_proof_chart(found, out))
    page = proof_html(
        found,
        proof_assumptions(bench.file, found, bench.place is not None),
        charts[0].read_text(encoding="utf-8") if charts else None,
        hints,
        bench.file.folder.resolve().name,
    )
    return [write_page(page, out / PAGE), *charts]
