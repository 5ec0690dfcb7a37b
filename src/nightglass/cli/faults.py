"""nightglass faults: what is wrong with each lens, as far as its spots can tell."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from nightglass.cli.bench_options import BodyOption, ChartsOption, FolderArgument, JsonOption
from nightglass.cli.doors import UndoneError, print_json


def faults(
    folder: FolderArgument = Path(),
    lens: Annotated[
        list[str] | None,
        typer.Option("--lens", help="Only this lens; may be given again.", show_default="all"),
    ] = None,
    body: BodyOption = None,
    as_json: JsonOption = False,
    charts: ChartsOption = True,
) -> None:
    """Say what is wrong with each lens: an uneven copy, the fault behind the blur, what helps.

    Nothing is measured anew: what `measure` put on record is read. The exit code is 1 if nothing
    is on record.
    """
    from nightglass.bench.faults.report import find_faults
    from nightglass.bench.focus.measure import fields_on_record
    from nightglass.bench.study.repeats import results_on_record
    from nightglass.cli.terminal import text_width
    from nightglass.gear.bag import read_bench_file
    from nightglass.gear.lens import chosen_lenses
    from nightglass.show.body_words import on_body_data, on_body_lines, typed_folder
    from nightglass.show.faults.data import faults_data
    from nightglass.show.faults.picture import write_pictures
    from nightglass.show.faults.text import report_lines

    bench = read_bench_file(folder).on_body(body)
    wanted = {one.name for one in chosen_lenses(bench.lenses, lens or [], "--lens ")}
    results = results_on_record(bench)
    found = find_faults(
        [r for r in results if r.setting.lens in wanted], bench.body, fields_on_record(bench)
    )
    if not found:
        raise UndoneError(
            f'{folder}: no spot of these lenses is on record; next: nightglass measure "{folder}"'
        )
    written = list(write_pictures(found, bench.body, bench.folder / "out")) if charts else []
    if as_json:
        print_json(
            {
                **faults_data(found),
                "written": [str(path) for path in written],
                **on_body_data(bench),
            }
        )
        return
    for line in on_body_lines(bench):
        print(line)
    print("\n".join(report_lines(found, bench.body, text_width())))
    for path in written:
        print(f"written: {path}")
    typed = typed_folder(folder, bench)
    print(f"Next: nightglass rank {typed}: what each lens is worth in spite of it")
