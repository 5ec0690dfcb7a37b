"""nightglass proof: hold the bench against frames of the real sky."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from nightglass.cli.bench_options import FolderArgument, JsonOption
from nightglass.cli.doors import FAILED, print_json, warn

if TYPE_CHECKING:
    from nightglass.almanac.place import Place
    from nightglass.gear.benchfile import BenchFile
    from nightglass.proof.frames import Bench
    from nightglass.proof.records import Proof


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
    from nightglass.bench.kept import Keeper
    from nightglass.bench.skyframes import sky_files, unmatched_sky_tables
    from nightglass.bench.store.store import open_store
    from nightglass.bench.study.repeats import results_on_record
    from nightglass.gear.bag import read_bench_file
    from nightglass.proof.frames import Bench
    from nightglass.proof.prove import prove
    from nightglass.proof.reading import KIND, compared_frames
    from nightglass.show.proof.data import proof_data
    from nightglass.show.proof.text import next_step, proof_lines

    file = read_bench_file(folder)
    bench = Bench(results_on_record(file), file, _place(file))
    files = sky_files(file)
    said = unmatched_sky_tables(file, files)
    frames = []
    store = open_store(file)
    try:
        with _progress(len(files), quiet=as_json) as advance:
            keeper = Keeper(store, KIND)
            for frame in compared_frames(files, bench, keeper, warn):
                frames.append(frame)
                advance()
    finally:
        store.close()
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
