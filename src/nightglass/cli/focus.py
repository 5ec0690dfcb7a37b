"""nightglass focus: where each lens is sharpest, from series through focus."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from nightglass.cli.bench_options import BodyOption, FolderArgument, JsonOption
from nightglass.cli.doors import FAILED, UndoneError, cant_write, print_json, warn
from nightglass.gear.lens import MarksToward


def focus(
    folder: FolderArgument = Path(),
    body: BodyOption = None,
    as_json: JsonOption = False,
    wavefront: Annotated[
        bool,
        typer.Option(
            "--wavefront", help="Also fit the low-order wavefront to each series at the centre."
        ),
    ] = False,
    towards: Annotated[
        MarksToward | None,
        typer.Option(
            "--towards",
            help="The end to which the marks of all series run: it gives the wavefront its signs. "
            "Without it: focus_marks_toward of each lens in bench.toml.",
        ),
    ] = None,
    charts: Annotated[
        bool,
        typer.Option("--charts/--no-charts", help="Write the picture (SVG, PNG) into out/."),
    ] = True,
) -> None:
    """Find best focus, its depth and its course over the frame from series through focus.

    A series is a set of measured frames that bench.toml gives one `series`, with the ring's
    marks as `focus_mark`, or in the order of shooting. The exit code is 1 if no series gives a
    best focus.
    """
    from nightglass.bench.focus.measure import focus_on_record
    from nightglass.bench.study.focus import wavefronts_on_record
    from nightglass.cli.terminal import text_width
    from nightglass.gear.bag import read_bench_file
    from nightglass.show.body_words import on_body_data, on_body_lines
    from nightglass.show.focus.chart import write_focus_chart
    from nightglass.show.focus.data import focus_data, wavefront_data
    from nightglass.show.focus.text import no_series_line, report_lines, wavefront_line

    bench = read_bench_file(folder).on_body(body)
    report = focus_on_record(bench)
    if not report.places:
        raise UndoneError(no_series_line(report))
    fits = wavefronts_on_record(report, bench, towards) if wavefront else ()
    fault = None
    if not any(place.best is not None for place in report.places):
        fault = "no focus series on record gives a best focus"
    written: list[Path] = []
    out = bench.folder / "out"
    if charts:
        try:
            written = write_focus_chart(report, out)
        except OSError as error:
            fault = cant_write(out, error)
            warn(fault)
    if as_json:
        waves = {"wavefronts": [wavefront_data(*pair) for pair in fits]}
        files = {"written": [str(path) for path in written]}
        print_json({**focus_data(report), **waves, **files, **on_body_data(bench)}, fault)
    else:
        lines = [*on_body_lines(bench), *report_lines(report, text_width(), folder)]
        lines[-1:-1] = [wavefront_line(*pair) for pair in fits]
        print("\n".join([*lines, *(f"written: {path}" for path in written)]))
    if fault is not None:
        raise typer.Exit(FAILED)
