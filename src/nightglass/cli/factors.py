"""nightglass factors: what else moves the number at one setting and place."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from nightglass.cli.bench_options import BodyOption, FolderArgument, JsonOption
from nightglass.cli.doors import FAILED, print_json


def factors(
    folder: FolderArgument = Path(),
    lens: Annotated[
        list[str] | None,
        typer.Option("--lens", help="Only this lens, or part of its name; repeat it."),
    ] = None,
    body: BodyOption = None,
    as_json: JsonOption = False,
    charts: Annotated[
        bool,
        typer.Option("--charts/--no-charts", help="Write the chart (SVG, PNG) into out/."),
    ] = True,
) -> None:
    """Say what exposure, ISO, distance, source and focus do to the measured size.

    Frames on record at one setting and place that differ in one of these make a study: how much of
    the spread each explains, with 95 % intervals. Put them into a series in bench.toml, so that
    they stay out of the ranking. The exit code is 1 if no effect can be told anywhere.
    """
    from nightglass.bench.factors.study import factor_studies
    from nightglass.gear.bag import read_bench_file
    from nightglass.gear.lens import chosen_lenses
    from nightglass.show.body_words import on_body_data, on_body_lines
    from nightglass.show.factors.chart import write_factors_chart
    from nightglass.show.factors.data import factors_data
    from nightglass.show.factors.words import next_words, nothing_told, report_lines

    bench = read_bench_file(folder).on_body(body)
    asked = {one.name for one in chosen_lenses(bench.lenses, lens or [])}
    studies = [study for study in factor_studies(bench) if study.setting.lens in asked]
    written = write_factors_chart(studies, bench.folder / "out") if charts else []
    fault = nothing_told(studies)
    if as_json:
        files = {"written": [str(path) for path in written]}
        print_json({**factors_data(studies), **files, **on_body_data(bench)}, fault)
    else:
        lines = [*on_body_lines(bench), *report_lines(studies)]
        print("\n".join([*lines, *(f"written: {path}" for path in written)]))
        print(next_words(studies, str(folder)))
    if fault is not None:
        raise typer.Exit(FAILED)
