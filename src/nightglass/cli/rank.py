"""The command that ranks lenses: nightglass rank FOLDER."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from nightglass.cli.bench_options import (
    ChartsOption,
    FolderArgument,
    JsonOption,
    LimitOption,
    PurposeOption,
    RemoteOption,
    ViewOption,
)
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
    as_json: JsonOption = False,
    charts: ChartsOption = True,
) -> None:
    """Rank the lenses of a bench by what one frame shows, and say how sure the order is."""
    from nightglass.bench.waiting import waiting_frames
    from nightglass.gear.bag import read_bench_file
    from nightglass.show.ranking.files import write_ranking
    from nightglass.show.ranking.tables import to_json
    from nightglass.show.ranking.text import rules_lines
    from nightglass.verdict.on_record import ranking_on_record
    from nightglass.verdict.purpose import with_choices

    bench = with_choices(read_bench_file(folder), purpose, remote, limit)
    ranking, results = ranking_on_record(bench, view)
    waiting = waiting_frames(bench)
    if as_json:
        print(to_json(ranking, waiting))
    else:
        print_ranking(ranking, waiting, folder, assumed)
        if rules:
            print("\n".join(rules_lines(ranking, bench)))
    out, failed = bench.folder / "out", False
    try:
        for path in write_ranking(ranking, results, bench.body, charts, out):
            if not as_json:
                print(f"written: {path}")
    except OSError as error:
        cause, failed = error.strerror or str(error), True
        typer.echo(
            f"{out}: can't be written ({cause}); free the disk or allow writing there", err=True
        )
    if failed or not ranking.standings:
        raise typer.Exit(1)


def print_ranking(
    ranking: Ranking, waiting: Waiting, folder: Path, all_assumed: bool = False
) -> None:
    """Print sentences, table, what stands beside it, what could change it and the next step."""
    from rich.console import Console

    from nightglass.show.ranking.sentences import opening
    from nightglass.show.ranking.text import (
        TABLE_COLUMNS,
        details_lines,
        next_line,
        ranking_lines,
        stacked_lines,
        waiting_lines,
    )

    console = Console(highlight=False, soft_wrap=True)
    for line in waiting_lines(waiting, folder):
        console.print(line, markup=False)
    if not ranking.standings:
        console.print("Nothing can be ranked yet.", markup=False)
    for line in opening(ranking):
        console.print(line, markup=False)
    if ranking.standings:
        console.print()
        if console.is_terminal and console.width < TABLE_COLUMNS:
            for line in stacked_lines(ranking):
                console.print(line, markup=False)
        else:
            _print_table(ranking)
    for line in (*details_lines(ranking), *ranking_lines(ranking, all_assumed)):
        console.print(line, markup=False)
    console.print(next_line(ranking, waiting, folder), markup=False)


def _print_table(ranking: Ranking) -> None:
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    from nightglass.show.ranking.text import WORDY_COLUMNS, headline, table_row

    console = Console(highlight=False)
    if not console.is_terminal:
        # A file or a pipe has no width of its own: nothing must be cut off.
        console = Console(highlight=False, width=180)
    table = Table(box=None, pad_edge=False, padding=(0, 2, 1, 0), show_edge=False)
    rows = [table_row(standing, ranking.question) for standing in ranking.standings]
    for title in rows[0]:
        table.add_column(title, justify="left" if title in WORDY_COLUMNS else "right")
    for row in rows:
        table.add_row(*(Text(cell) for cell in row.values()))
    console.print(Text(f"{headline(ranking)}\n"))
    console.print(table)
