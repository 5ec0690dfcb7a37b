"""The command that ranks lenses: nightglass rank FOLDER."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from nightglass.cli.bench_options import (
    BodyOption,
    ChartsOption,
    FolderArgument,
    JsonOption,
    LimitOption,
    PurposeOption,
    RemoteOption,
    ViewOption,
)
from nightglass.cli.doors import FAILED, cant_write, print_json, warn
from nightglass.cli.terminal import console, printable
from nightglass.verdict.question import Question

if TYPE_CHECKING:
    from nightglass.bench.waiting import Waiting
    from nightglass.verdict.records import Ranking

RulesOption = Annotated[
    bool,
    typer.Option("--rules", help="Also print what every common rule allows, side by side."),
]
AssumedOption = Annotated[
    bool, typer.Option("--assumed", help="Print every assumption with its source.")
]


def rank(
    folder: FolderArgument = Path(),
    view: ViewOption = Question.PICTURE,
    purpose: PurposeOption = None,
    limit: LimitOption = None,
    remote: RemoteOption = None,
    rules: RulesOption = False,
    assumed: AssumedOption = False,
    body: BodyOption = None,
    as_json: JsonOption = False,
    charts: ChartsOption = True,
) -> None:
    """Rank the lenses of a bench by what one frame shows, and say how sure the order is."""
    from nightglass.bench.waiting import waiting_frames
    from nightglass.gear.bag import read_bench_file
    from nightglass.show.body_words import on_body_data, on_body_lines, typed_folder
    from nightglass.show.ranking.files import write_ranking
    from nightglass.show.ranking.tables import ranking_document
    from nightglass.show.ranking.text import rules_lines
    from nightglass.verdict.on_record import ranking_on_record
    from nightglass.verdict.purpose import with_choices

    bench = with_choices(read_bench_file(folder).on_body(body), purpose, remote, limit)
    ranking, results = ranking_on_record(bench, view)
    waiting = waiting_frames(bench)
    if not as_json:
        for line in on_body_lines(bench):
            print(line)
        print_ranking(ranking, waiting, folder, assumed, typed_folder(folder, bench))
        if rules:
            print("\n".join(rules_lines(ranking, bench)))
    fault = None if ranking.standings else "Nothing can be ranked yet."
    out = bench.folder / "out"
    try:
        for path in write_ranking(ranking, results, bench.body, charts, out):
            if not as_json:
                print(f"written: {path}")
    except OSError as error:
        fault = cant_write(out, error)
        warn(fault)
    if as_json:
        print_json({**ranking_document(ranking, waiting), **on_body_data(bench)}, fault)
    if fault is not None:
        raise typer.Exit(FAILED)


def print_ranking(
    ranking: Ranking, waiting: Waiting, folder: Path, all_assumed: bool = False, typed: str = ""
) -> None:
    """Print sentences, table, what stands beside it, what could change it and the next step."""
    from nightglass.show.ranking.sentences import opening
    from nightglass.show.ranking.text import (
        TABLE_COLUMNS,
        details_lines,
        next_line,
        ranking_lines,
        stacked_lines,
        waiting_lines,
    )

    for line in waiting_lines(waiting, folder):
        print(line)
    if not ranking.standings:
        print("Nothing can be ranked yet.")
    for line in opening(ranking):
        print(line)
    if ranking.standings:
        print()
        screen = console()
        if screen.is_terminal and screen.width < TABLE_COLUMNS:
            print("\n".join(stacked_lines(ranking)))
        else:
            _print_table(ranking)
    for line in (*details_lines(ranking), *ranking_lines(ranking, all_assumed)):
        print(line)
    print(next_line(ranking, waiting, folder, typed))


def _print_table(ranking: Ranking) -> None:
    from rich.table import Table
    from rich.text import Text

    from nightglass.show.ranking.text import WORDY_COLUMNS, headline, table_row

    table = Table(box=None, pad_edge=False, padding=(0, 2, 1, 0), show_edge=False)
    rows = [table_row(standing, ranking.question) for standing in ranking.standings]
    for title in rows[0]:
        table.add_column(title, justify="left" if title in WORDY_COLUMNS else "right")
    for row in rows:
        table.add_row(*(Text(printable(cell)) for cell in row.values()))
    print(f"{headline(ranking)}\n")
    console(width_in_pipe=180).print(table)
