"""nightglass flats: how light falls off toward the corners, from evenly lit frames."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from nightglass.cli.bench_options import ChartOption, FolderArgument, JsonOption
from nightglass.cli.doors import FAILED, print_json, warn

if TYPE_CHECKING:
    from nightglass.bench.flats.records import FlatReport
    from nightglass.gear.benchfile import BenchFile


def flats(
    folder: FolderArgument = Path(),
    reference: Annotated[
        str | None,
        typer.Option(
            "--reference",
            help="Lens that the others are held against.",
            show_default="the one with most f-numbers in common",
        ),
    ] = None,
    as_json: JsonOption = False,
    charts: ChartOption = True,
) -> None:
    """Measure the light over the field from evenly lit frames.

    The frames lie in flats/ of the bench folder; which lens setting each belongs to comes from its
    metadata or from bench.toml, as for all frames. What is found is kept: rank and card use the
    falloff before what frames of the sky tell, and the light of lens against lens where
    bench.toml says nothing of a lens's glass. The exit code is 1 if no falloff could be measured.
    """
    from nightglass.bench.beside import FLATS, files_beside
    from nightglass.bench.flats.measure import measure_flats
    from nightglass.cli.terminal import progress, text_width
    from nightglass.gear.bag import read_bench_file
    from nightglass.gear.lens import chosen_lenses
    from nightglass.show.flats.chart import write_flats_chart
    from nightglass.show.flats.data import flats_data
    from nightglass.show.flats.words import report_lines

    bench = read_bench_file(folder)
    files = files_beside(bench, FLATS)
    said = None
    if reference is not None:
        said = chosen_lenses(bench.lenses, [reference], "--reference ")[0].name
    with progress(quiet=as_json) as told:
        report = measure_flats(files, bench, said, told)
    _keep(report, bench)
    written = write_flats_chart(report, folder / "out") if charts else []
    if as_json:
        print_json({**flats_data(report), "written": [str(path) for path in written]})
    else:
        print(
            "\n".join(
                [*report_lines(report, text_width()), *(f"written: {path}" for path in written)]
            )
        )
        print(_next(folder, report))
    if not report.settings:
        raise typer.Exit(FAILED)


def _keep(report: FlatReport, bench: BenchFile) -> None:
    from nightglass.bench.falloff import FLATS, keep_flats, keep_flats_light
    from nightglass.bench.flats.measure import report_falloffs, report_light
    from nightglass.bench.kept import Keeper
    from nightglass.bench.store.store import open_store

    store = open_store(bench)
    try:
        keeper = Keeper(store, FLATS, warn)
        keep_flats(keeper, report_falloffs(report))
        keep_flats_light(keeper, report_light(report))
    finally:
        store.close()


def _next(folder: Path, report: FlatReport) -> str:
    if not report.settings:
        return "Next: take the frames again (docs/flats.md) and run the command again"
    return f'Next: nightglass rank "{folder}": it uses what was measured here'
