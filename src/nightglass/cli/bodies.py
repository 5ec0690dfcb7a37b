"""nightglass bodies: one lens on several bodies, compared at the same image height."""

from __future__ import annotations

from pathlib import Path

import typer

from nightglass.cli.bench_options import FolderArgument, JsonOption
from nightglass.cli.doors import FAILED, UndoneError, print_json


def bodies(folder: FolderArgument = Path(), as_json: JsonOption = False) -> None:
    """Hold each lens against itself on the bodies that measured it: px, micrometres, % of height.

    Places are compared at equal image height in mm, not at an equal share of the frame, and the
    pixels' own share is taken out. Nothing is measured anew: what `measure` put on record is read.
    The exit code is 1 if nothing can be compared.
    """
    from nightglass.bench.across.compare import compare_bodies
    from nightglass.bench.study.repeats import results_on_record
    from nightglass.cli.terminal import text_width
    from nightglass.gear.bag import read_bench_file
    from nightglass.show.bodies.data import bodies_data
    from nightglass.show.bodies.text import fault_of, next_line, report_lines

    bench = read_bench_file(folder)
    if not bench.other_bodies:
        raise UndoneError(
            f"{folder}: bench.toml has one body only, {bench.body.name}; describe the other one as "
            "an [[other_body]] with the keys of [body]"
        )
    results = {body.name: results_on_record(bench.on_body(body.name)) for body in bench.bodies}
    report = compare_bodies(bench.bodies, results)
    fault = fault_of(report)
    if as_json:
        print_json(bodies_data(report), fault)
    else:
        print("\n".join(report_lines(report, text_width())))
        print(next_line(report, f'"{folder}"'))
    if fault is not None:
        raise typer.Exit(FAILED)
